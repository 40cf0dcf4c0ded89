"""Who must be told now of what is open, beyond those who were put down for it already. Pure; decided anew each time.

Places hear of everything they want at once. Of people, the lowest turn that has somebody who can be rung; while nobody
can, nobody, unless it cannot wait. What wants a hand goes on to the next turn when nobody picked it up.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence, Set
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from service.alerts.conditions import Condition
from service.alerts.keys import extra_of, stem_of
from service.alerts.kinds import REMINDED
from service.alerts.one_cause import inhibited
from service.alerts.people import Person
from service.alerts.rules import AlertRules
from service.alerts.waiting import first_got, is_taken_on, put_out_at, ran_out_at, same_hand
from service.records.outbox import AlertRow
from service.records.shop_facts import Site

NOBODY: frozenset[str] = frozenset()


class Why(StrEnum):
    """Why somebody is told."""

    PLACE = "a place hears of it at once"
    FIRST = "first of those who can be rung"
    URGENT = "nobody can be rung, and it cannot wait"
    NEXT = "nobody picked it up"
    DEAF = "no way to whom it was told works"


@dataclass(frozen=True, slots=True)
class Telling:
    """To whom the open alert with this key goes now."""

    why: Why
    key: str
    recipients: tuple[str, ...]


def escalate(
    conditions: Sequence[Condition],
    open_alerts: Sequence[AlertRow],
    now: datetime,
    rules: AlertRules,
    site: Site | None = None,
    deaf: Set[str] = NOBODY,
) -> list[Telling]:
    """Whom to tell of those open alerts whose condition still fires and for which no other speaks.

    deaf: who cannot be reached by any way: they are passed over, unless that leaves nobody.
    """
    alerts = {stem_of(row.key): row for row in open_alerts if extra_of(row.key) is None}
    turns = Turns(open_alerts, now, rules, site)
    true = [c for c in conditions if c.firing and c.stem in alerts]
    told = [c for c in true if not inhibited(c, conditions, alerts, now, rules)]
    return [telling for c in told for telling in turns.of(c, alerts[c.stem], deaf)]


def places_for(condition: Condition, rules: AlertRules) -> list[str]:
    """The places that hear of it."""
    if condition.only_for is not None:
        return []
    return [place.name for place in rules.everywhere if place.wants(condition.kind)]


class Turns:
    """Whose turn it is at `now`."""

    def __init__(
        self, open_alerts: Sequence[AlertRow], now: datetime, rules: AlertRules, site: Site | None
    ) -> None:
        self._open, self._now, self._rules, self._site = open_alerts, now, rules, site
        self._reach = rules.reach(site)

    def of(self, condition: Condition, alert: AlertRow, deaf: Set[str]) -> Iterator[Telling]:
        """Who is to be told of this alert beside those that are."""
        had = {d.recipient for d in alert.deliveries}
        places = tuple(name for name in places_for(condition, self._rules) if name not in had)
        if places:
            yield Telling(Why.PLACE, alert.key, places)
        wanting = [
            p for p in self._rules.people if p.wants(alert.kind) and condition.only_for in (None, p.name)
        ]
        deaf = NOBODY if deaf >= {p.name for p in wanting} else deaf
        told = [p for p in wanting if p.name in had]
        left = [p for p in wanting if p.name not in had and p.name not in deaf]
        why, people = self._next(alert, told, left, deaf)
        if people:
            yield Telling(why, alert.key, tuple(p.name for p in people))

    def _next(
        self, alert: AlertRow, told: Sequence[Person], left: Sequence[Person], deaf: Set[str]
    ) -> tuple[Why, list[Person]]:
        why = self._passed_on(alert, told, deaf) if told else Why.FIRST
        if why is None:
            return Why.FIRST, []
        ringing = [p for p in left if self._reach.reachable(p.name, self._now)]
        if ringing or not self._rules.is_urgent(alert.kind):
            return why, _lowest_turn(ringing)
        there = [p for p in left if not p.is_off(self._now, self._site)]
        return why if told else Why.URGENT, _lowest_turn(there or left)

    def _passed_on(self, alert: AlertRow, told: Sequence[Person], deaf: Set[str]) -> Why | None:
        """Why it goes on to the next turn now. None: it does not.

        What wants no hand goes on only where nobody got it.
        """
        hand = same_hand(alert, self._open)
        got = {d.recipient for d in alert.deliveries if d.delivered_at is not None}
        heard = any(p.name in got for p in told)
        if is_taken_on(hand, self._now) or (heard and alert.kind not in REMINDED):
            return None
        if not heard and all(p.name in deaf for p in told):
            return Why.DEAF
        since = max([*self._told_at(alert, told), *filter(None, [ran_out_at(hand, self._now)])])
        waits = timedelta(seconds=self._rules.next_person_after_s(alert.kind))
        return Why.NEXT if self._now - since >= waits else None

    def _told_at(self, alert: AlertRow, told: Sequence[Person]) -> Iterator[datetime]:
        """When each turn was told: when the first of it got it, or as long as nobody did, was to get it."""
        for turn in {p.turn for p in told}:
            names = {p.name for p in told if p.turn == turn}
            rows = [d for d in alert.deliveries if d.recipient in names]
            yield first_got(rows) or min(put_out_at(d) for d in rows)


def _lowest_turn(people: Sequence[Person]) -> list[Person]:
    lowest = min((p.turn for p in people), default=0)
    return [p for p in people if p.turn == lowest]
