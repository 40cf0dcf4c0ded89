"""Where replies are taken: by a link in a message, or from the pages; and what they make of the bells that ring.

A reply is about a mould: it goes to every bell of that mould that still rings, so that one tap quiets a dip that is due
and its longest wait alike.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta
from typing import Protocol

from service.alerts.hours import second_of_day
from service.alerts.keys import coat_of, coat_on_mould
from service.alerts.kinds import REMINDED, Echo
from service.alerts.replies import COME_LINE, Said, held, holds, last_word
from service.alerts.reply_links import Link, LinkOver, ReplyLinks, unknown
from service.alerts.reply_views import Wanted
from service.alerts.rules import AlertRules
from service.alerts.wordings import Wordings
from service.clock import Clock
from service.errors import Conflict, NotFound
from service.records.outbox import AlertRow, DeliveryRow, ReplyRow
from service.records.plain import name_of, spelling
from service.records.shop_facts import Site
from service.room.views import Called, Hand, OpenBell
from service.voice import say
from service.words import snooze_button

COME, LATER = "come", "later"
"""What opening a link says by itself."""
SECOND = timedelta(seconds=1)
"""Links keep whole seconds."""
ONE_TAP = timedelta(minutes=1)
"""Wanted to be told later twice within this, somebody meant it once."""


class ReplyRecords(Protocol):
    """The part of the records that replies use."""

    def site(self) -> Site | None: ...

    def open_alerts(self) -> list[AlertRow]: ...

    def alerts_numbered(self, numbers: Sequence[int]) -> list[AlertRow]: ...

    def reply(
        self, alert_id: int, person: str, what: str, at: datetime, until: datetime | None
    ) -> ReplyRow: ...


class ReplyDesk:
    """links: None where no links can be signed. heard: called after something new was said. wordings: see there."""

    def __init__(
        self,
        records: ReplyRecords,
        rules: AlertRules,
        clock: Clock,
        links: ReplyLinks | None = None,
        heard: Callable[[], None] = lambda: None,
        wordings: Wordings | None = None,
    ) -> None:
        self._records, self._rules, self._clock, self._links, self._heard = (
            records,
            rules,
            clock,
            links,
            heard,
        )
        self._wordings = wordings or Wordings()
        self._saying = threading.Lock()

    def take(self, rules: AlertRules) -> None:
        """Go by these rules from now on."""
        self._rules = rules

    # What is asked

    def lines(self, recipient: str, deliveries: Sequence[DeliveryRow], now: datetime) -> list[str]:
        """What a message says at its end: how a person answers it. Nothing for places, and where no hand is wanted."""
        wanted = tuple(d.alert_id for d in deliveries if wants_a_hand(d.alert.kind))
        if self._links is None or not wanted or self._rules.person(recipient) is None:
            return []
        rules = self._rules.not_picked_up
        link = Link(wanted, recipient, now + timedelta(seconds=rules.link_holds_s))
        if not self._links.fits(link):
            return []  # hundreds of moulds: the message leads to the board
        return [
            f"{say(COME_LINE)}{self._links.address(link, COME)}",
            f"{snooze_button(rules.snooze_s)}: {self._links.address(link, LATER)}",
        ]

    def called(self) -> Called:
        """Every bell that rings, and what was said to it."""
        now = self._clock.now()
        rows = self._ringing()
        quiet = self._rules.quiet_hours.hours
        return Called(
            tuple(self._bell(row) for row in rows),
            _hands(rows, now),
            quiet is not None and quiet.hold(second_of_day(now, self._records.site())),
            self._rules.not_picked_up.snooze_s,
        )

    def wanted(self, token: str) -> Wanted:
        """What a link asks. Raises LinkUnknown or LinkOver, in words."""
        link = self._read(token)
        rows = self._still(link)
        return Wanted(
            link.person,
            tuple(self._bell(row) for row in rows),
            _hands(rows, self._clock.now()),
            frozenset(_said_since(rows, link.person, self._sent(link))),
            tuple(p.name for p in self._rules.people if p.name != link.person),
            self._rules.not_picked_up.snooze_s,
        )

    def asked_by(self, token: str) -> str | None:
        """Whom a link asks, also one that has run out. None: it is none of ours."""
        return self._links.person(token) if self._links else None

    # What is said

    def reply(self, token: str, said: Said) -> Wanted:
        """Say it to what a link is about. Raises what `wanted` does."""
        link = self._read(token)
        self._say(self._still(link), link.person, said)
        return self.wanted(token)

    def reply_to_alert(self, alert_id: int, person: str, said: Said) -> AlertRow:
        """Say it to an alert; from it on, the alert. Raises NotFound; Conflict where no hand is wanted any more."""
        if not self._records.alerts_numbered([alert_id]):
            raise NotFound(
                "alert_unknown",
                say("There is no message {alert_id}.", alert_id=alert_id),
                say("Look at the page Messages."),
            )
        rows = self._of_same_moulds([alert_id])
        if not rows:
            raise _nobody_wanted(say("That message"))
        self._say(rows, person, said)
        return self._records.alerts_numbered([alert_id])[0]

    def reply_to_mould(self, mould_id: int, person: str, said: Said) -> None:
        """Say it to every bell of a mould. Raises Conflict where none rings."""
        rows = [row for row in self._ringing() if row.mould_id == mould_id]
        if not rows:
            raise _nobody_wanted(say("This mould"))
        self._say(rows, person, said)

    # Helpers

    def _read(self, token: str) -> Link:
        if self._links is None:
            raise unknown()
        link = self._links.read(token, self._clock.now())
        if self._rules.person(link.person) is None:
            raise LinkOver(
                "person_gone",
                say("“{person}” is not among the people any more.", person=link.person),
                say("Say it on the mould's page instead, or ask whoever set coatbell up."),
            )
        return link

    def _still(self, link: Link) -> list[AlertRow]:
        """Not of alerts younger than the link: after older records were brought back, numbers are used again."""
        asked = self._records.alerts_numbered(link.alerts)
        rows = self._of_same_moulds([row.id for row in asked if row.opened_at <= self._sent(link) + SECOND])
        if not rows:
            raise over()
        return rows

    def _sent(self, link: Link) -> datetime:
        return link.until - timedelta(seconds=self._rules.not_picked_up.link_holds_s)

    def _of_same_moulds(self, alert_ids: Sequence[int]) -> list[AlertRow]:
        """The bells that ring for the coats that these alerts are about, or remind of.

        Not those very alerts: a longest wait that is near becomes another when it ends, and a bell may ring anew.
        """
        asked = self._records.alerts_numbered(alert_ids)
        coats = {coat_on_mould(row.key) for row in asked if wants_a_hand(row.kind)}
        return [row for row in self._ringing() if coat_on_mould(row.key) in coats]

    def _ringing(self) -> list[AlertRow]:
        return [r for r in self._records.open_alerts() if r.kind in REMINDED and r.mould_id is not None]

    def _bell(self, row: AlertRow) -> OpenBell:
        assert row.mould_id is not None  # see `_ringing`
        urgent = self._rules.is_urgent(row.kind)
        title = self._wordings.of(row).title
        return OpenBell(row.id, row.mould_id, row.subject, coat_of(row.key), title, urgent)

    def _say(self, rows: Iterable[AlertRow], person: str, said: Said) -> None:
        """Once, however often it is tapped: looked up and written by one thread at a time."""
        name = self._known_as(name_of(person, say("who says it"), "person"))
        with self._saying:
            now = self._clock.now()
            fresh = self._records.alerts_numbered([row.id for row in rows])
            news = [row for row in fresh if _is_news(last_word(row, name), said, now)]
            for row in news:
                self._records.reply(row.id, name, said, now, self._until(said, now))
        if news:
            self._heard()

    def _known_as(self, person: str) -> str:
        """A person's name as alerts.toml spells it."""
        known = (p.name for p in self._rules.people if spelling(p.name) == spelling(person))
        return next(known, person)

    def _until(self, said: Said, now: datetime) -> datetime | None:
        rules = self._rules.not_picked_up
        lasts_s = {Said.ON_MY_WAY: rules.on_my_way_for_s, Said.LATER: rules.snooze_s}
        return now + timedelta(seconds=lasts_s[said]) if said in lasts_s else None


def wants_a_hand(kind: str) -> bool:
    """Whether a message of this kind asks somebody to come. Reminders are of such kinds only."""
    return kind in REMINDED or kind == Echo.REMINDER


def _hands(rows: Iterable[AlertRow], now: datetime) -> tuple[Hand, ...]:
    """What was said, once a mould and person: of several bells the first."""
    found: dict[tuple[int | None, str], Hand] = {}
    for row in rows:
        for reply in held(row, now):
            hand = Hand(row.mould_id or 0, row.title, reply.person, reply.what, reply.at, reply.until)
            found.setdefault((row.mould_id, reply.person), hand)
    return tuple(found.values())


def _said_since(rows: Iterable[AlertRow], person: str, sent: datetime) -> set[str]:
    own = (r for row in rows for r in row.replies if spelling(r.person) == spelling(person))
    return {reply.what for reply in own if reply.at >= sent}


def _is_news(last: ReplyRow | None, said: Said, now: datetime) -> bool:
    """Whether it changes anything to say this after that."""
    if last is None or not holds(last, now):
        return said is not Said.TAKEN_BACK
    if last.what != said:
        return True
    return said is Said.LATER and now - last.at >= ONE_TAP


def over() -> LinkOver:
    return LinkOver(
        "bell_over",
        say("That is over: it was dipped, or the bell was taken back."),
        say("Nothing is left to do for this message. The wall-board shows what comes next."),
    )


def _nobody_wanted(what: str) -> Conflict:
    return Conflict(
        "no_hand_wanted",
        say("{what} wants nobody to come now.", what=what),
        say("It was dipped or taken back meanwhile, or needs no hand: look at the board."),
    )
