"""Sends what waits in the outbox until somebody said yes: each recipient in a round of its own, each attempt recorded.

An alert counts as told only once a notifier took it, so a crash in between repeats a message, marked as a repeat, and
never loses one. No database transaction is open while something is sent.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Sequence
from contextlib import AbstractContextManager
from datetime import datetime, timedelta
from functools import partial
from itertools import chain
from random import Random
from typing import Protocol

from service.alerts.envelope import enclosed
from service.alerts.notifiers.bounded import BUSY
from service.alerts.notifiers.notifier import Answer
from service.alerts.others import with_the_others
from service.alerts.parcels import Parcel, held_back, is_moot, pack
from service.alerts.rounds import Rounds
from service.alerts.rules import AlertRules
from service.alerts.sending_troubles import sending_troubles
from service.alerts.telling import tell
from service.alerts.tryout import TriedOut, a_test
from service.alerts.ways import Way, Ways
from service.alerts.ways_in_use import OffRecords, WaysInUse, main_and_extra, settles
from service.alerts.wordings import Wordings
from service.clock import Clock
from service.records.outbox import AlertRow, DeliveryRow, Outcome
from service.records.shop_facts import Site
from service.records.ways_store import WayOff
from service.room.views import Trouble
from service.voice import later, say

STOPS_WITHIN_S = 1.0
NOT_TAKEN = later("not taken")
ReplyLines = Callable[[str, Sequence[DeliveryRow], datetime], Sequence[str]]
"""What stands at the end of a message to somebody: how it is answered."""


def no_lines(recipient: str, deliveries: Sequence[DeliveryRow], now: datetime) -> Sequence[str]:
    """Nobody can answer."""
    return ()


class SenderRecords(OffRecords, Protocol):
    """The part of the records that the sender uses."""

    def site(self) -> Site | None: ...

    def alerts_numbered(self, numbers: Sequence[int]) -> list[AlertRow]: ...

    def due_deliveries(self, now: datetime, latest: datetime | None = None) -> list[DeliveryRow]: ...

    def failed_deliveries(self) -> list[DeliveryRow]: ...

    def begin_try(self, delivery_ids: Sequence[int], way: str, at: datetime, repeat: bool) -> list[int]: ...

    def end_try(
        self, try_ids: Sequence[int], outcome: Outcome, at: datetime, words: str, settles: bool = True
    ) -> None: ...

    def delivery_failed(
        self, delivery_id: int, at: datetime, error: str, next_try_at: datetime | None
    ) -> None: ...


class Sender:
    """`board_link`: where everything can be looked at. `chance`: moves each next try a little.

    beginning: held by whoever begins a round; none begins while another holds it.
    """

    def __init__(
        self,
        records: SenderRecords,
        ways: Ways,
        clock: Clock,
        rules: AlertRules,
        board_link: str = "",
        chance: Random | None = None,
        reply_lines: ReplyLines = no_lines,
        wordings: Wordings | None = None,
    ) -> None:
        self._records, self._ways, self._clock, self._rules = records, ways, clock, rules
        self._board_link = board_link
        self._reply_lines = reply_lines
        self._wordings = wordings or Wordings()
        self._chance = chance or Random()
        self._use = WaysInUse(records, ways, rules.sending)
        self._rounds = Rounds()
        self.beginning = threading.Lock()
        self._closed = False
        self._cut_off: dict[
            str, datetime
        ] = {}  # who has no way left, and since when something waits for them
        self._taken_unwritten: set[tuple[int, ...]] = set()  # went out, but the records could not be written

    def take(self, rules: AlertRules) -> None:
        """Go by these rules from now on. Who is told what, a round that runs asks anew at each message."""
        self._rules = rules
        self._use.take(rules.sending)

    # Everybody's

    def send_due(self, wait: bool = True) -> None:
        """Begin a round for everybody for whom something is due and who is not busy; `wait` until they are over.

        Raises what the records raise, if need be at the next call.
        """
        with self.beginning:
            for tries in list(self._taken_unwritten):
                self._taken(tries)
            self._use.forget_old()
            busy = self._rounds.busy()  # before reading what is due: what they are sending is due as well
            begun = [
                self._rounds.begin(name, partial(self._round, name, deliveries))
                for name, deliveries in self._due(busy)
            ]
        if wait:
            for each in begun:
                each.join()
        self._rounds.check()

    def send_test(self, to: str | None = None, by: str | None = None) -> list[TriedOut]:
        """Send a test by every way of everybody, or of one, or `by` one way. One that takes it is on again."""
        asked: dict[str, list[Way]] = {}
        for way in self._ways.all():
            if to in (None, way.recipient) and by in (None, way.name):
                asked.setdefault(way.recipient, []).append(way)
        found: dict[str, list[TriedOut]] = {
            name: [TriedOut(w, BUSY) for w in ways] for name, ways in asked.items()
        }
        begun = [self._begin_test(name, ways, found) for name, ways in asked.items()]
        for name in (name for name in begun if name is not None):
            self._rounds.wait(name, self._rules.sending.time_out_s * (len(asked[name]) + 1))
        self._rounds.check()
        return list(chain.from_iterable(found.values()))

    def troubles(self) -> list[Trouble]:
        """What the board must show about messages that do not go out."""
        failed, ways = self._records.failed_deliveries(), self._use.by_recipient()
        waits = [*self._cut_off.items(), *((d.recipient, d.opened_at) for d in failed)]
        cut_off: dict[str, datetime] = {}
        for name, since in waits:
            if self._rules.recipient(name) is not None and not ways.get(name):
                cut_off[name] = min(since, cut_off.get(name, since))
        return sending_troubles(self._use.off(), cut_off, failed, self._rules)

    def ways_now(self) -> tuple[Sequence[Way], list[WayOff]]:
        """Every way, and those among them that are off."""
        return self._ways.all(), self._use.off()

    def close(self) -> None:
        """Stop sending at once; what is not settled stays due and goes out after the next start."""
        self._closed = True
        self._ways.close()
        self._rounds.close(STOPS_WITHIN_S)

    def _due(self, busy: Iterable[str]) -> list[tuple[str, list[DeliveryRow]]]:
        """Who is to be told what. What waits for somebody without any way goes on waiting."""
        waiting: dict[str, list[DeliveryRow]] = {}
        for delivery in self._sendable():
            waiting.setdefault(delivery.recipient, []).append(delivery)
        ways = self._use.by_recipient()
        self._cut_off = {n: min(d.opened_at for d in rows) for n, rows in waiting.items() if not ways.get(n)}
        return [(n, rows) for n, rows in waiting.items() if n not in busy and n not in self._cut_off]

    def _sendable(self) -> list[DeliveryRow]:
        """What is due and still worth sending now; the rest is given up, or waits until it may ring."""
        now, site = self._clock.now(), self._records.site()
        sendable = []
        for delivery in self._records.due_deliveries(now, now + self._longest_wait):
            if self._rules.recipient(delivery.recipient) is None:
                self._nobody_of_that_name(delivery, now)
            elif is_moot(delivery):
                self._give_up(delivery, say("no longer true"))
            elif not held_back(delivery, now, site, self._rules):
                sendable.append(delivery)
        alerts = {row.id: row for row in self._records.alerts_numbered([d.alert_id for d in sendable])}
        return [self._worded(delivery, alerts[delivery.alert_id], site, now) for delivery in sendable]

    def _worded(
        self, delivery: DeliveryRow, alert: AlertRow, site: Site | None, now: datetime
    ) -> DeliveryRow:
        """As its recipient is told it."""
        with self._speaking_to(delivery.recipient):
            return with_the_others(self._wordings.worded(delivery), alert, self._rules, site, now)

    def _speaking_to(self, recipient: str) -> AbstractContextManager[None]:
        return self._wordings.speaking_to(self._rules.person(recipient))

    @property
    def _longest_wait(self) -> timedelta:
        """No next try lies further away, unless the clock was set back since."""
        sending = self._rules.sending
        return timedelta(seconds=sending.longest_retry_s * (1 + sending.jitter))

    def _begin_test(self, name: str, ways: Sequence[Way], found: dict[str, list[TriedOut]]) -> str | None:
        """The name, once its test has begun; None: they are still busy with the message before."""
        self._rounds.wait(name, self._rules.sending.time_out_s)
        with self.beginning:
            if name in self._rounds.busy():
                return None
            self._rounds.begin(name, partial(self._test, name, ways, found))
            return name

    def _test(self, name: str, ways: Sequence[Way], found: dict[str, list[TriedOut]]) -> None:
        with self._speaking_to(name):
            notice = a_test(self._clock.now())
        for place, way in enumerate(ways):
            tested = TriedOut(way, tell(way, notice))
            found[name][place] = tested
            if tested.answer.taken:
                self._use.took_a_test(way)

    # One recipient's round

    def _round(self, name: str, deliveries: Sequence[DeliveryRow]) -> None:
        """One message after the other. Whoever cannot be reached by one is left alone for the rest of the round."""
        away = ""
        for parcel in self._parcels(name, deliveries):
            ways = self._use.by_recipient().get(name, [])  # the one before may have switched one off
            if self._closed or not ways:
                return
            if away:
                self._put_off(parcel, ways, away)
            elif self._still_to_be_told(parcel):
                answers = self._tell(parcel, ways)
                told = any(settles(way, ways) and answer.taken for way, answer in answers)
                if not told and not self._use.are_known(main_and_extra(ways)[0]):
                    return  # another address was given meanwhile: what is due goes there in the next round
                if not told and not self._closed:
                    away = self._not_told(parcel, ways, answers)

    def _parcels(self, name: str, deliveries: Sequence[DeliveryRow]) -> list[Parcel]:
        now = self._clock.now()
        with self._speaking_to(name):
            found = _parcels(deliveries, self._rules, now, self._board_link)
            return [p.with_lines(self._reply_lines(p.recipient, p.deliveries, now)) for p in found]

    def _still_to_be_told(self, parcel: Parcel) -> bool:
        """The one before may have taken a while: somebody may have dipped meanwhile. Then it is packed anew."""
        ids = {d.id for d in parcel.deliveries}
        rows = self._records.alerts_numbered(sorted({d.alert_id for d in parcel.deliveries}))
        now = [d for row in rows for d in row.deliveries if d.id in ids]
        return all(d.delivered_at is None and not is_moot(d) for d in now)

    def _tell(self, parcel: Parcel, ways: Sequence[Way]) -> list[tuple[Way, Answer]]:
        """Try one way after the other until one takes it, and the extra ones besides."""
        had = {t.way for d in parcel.deliveries for t in d.tries if t.outcome is Outcome.TAKEN}
        main, extra = main_and_extra(
            [w for w in ways if not self._rests(w) and (w.name not in had or settles(w, ways))]
        )
        answers: list[tuple[Way, Answer]] = []
        for way in chain(main, extra):
            told = any(answer.taken for _, answer in answers)
            if not self._closed and (way.extra or not told) and self._use.are_known([way]):
                doubt = any(answer.outcome is Outcome.UNCLEAR for _, answer in answers)
                answers.append((way, self._try(way, parcel, doubt, settles(way, ways))))
        return answers

    def _try(self, way: Way, parcel: Parcel, doubt: bool, settles_it: bool) -> Answer:
        repeat = doubt or any(d.may_have_arrived for d in parcel.deliveries)
        ids = [d.id for d in parcel.deliveries]
        tries = tuple(self._records.begin_try(ids, way.name, self._clock.now(), repeat))
        with self._speaking_to(parcel.recipient):
            notice = enclosed(parcel.notice(repeat))
        answer = tell(way, notice)  # what comes of it the shop reads
        if answer.taken and settles_it:
            self._taken_unwritten.add(tries)
            self._taken(tries)
        elif answer.taken:
            self._records.end_try(tries, answer.outcome, self._clock.now(), "", settles=False)
        elif not self._closed:  # what was broken off stays as it is: it may have arrived
            self._records.end_try(tries, answer.outcome, self._clock.now(), answer.words)
        if not self._closed:
            self._use.answered(way, answer, self._clock.now())
        return answer

    def _taken(self, tries: tuple[int, ...]) -> None:
        """Kept in mind until it is written, so that a full disk does not make the same message go out each minute."""
        self._records.end_try(tries, Outcome.TAKEN, self._clock.now(), "")
        self._taken_unwritten.discard(tries)

    def _not_told(self, parcel: Parcel, ways: Sequence[Way], answers: Sequence[tuple[Way, Answer]]) -> str:
        """Why the others need not be tried now; empty if they may be: what is refused is perhaps this one alone."""
        words = "; ".join(f"{way.name}: {say(answer.words or NOT_TAKEN)}" for way, answer in answers)
        words = words or say("asked to be left alone for a while")
        self._put_off(parcel, ways, words)
        refused = answers and all(answer.outcome is Outcome.REFUSED for _, answer in answers)
        return "" if refused else words

    def _put_off(self, parcel: Parcel, ways: Sequence[Way], why: str) -> None:
        now = self._clock.now()
        until = self._next_try(max(d.attempts for d in parcel.deliveries) + 1, ways, now)
        for delivery in parcel.deliveries:
            self._records.delivery_failed(delivery.id, now, why, until)

    def _next_try(self, attempts: int, ways: Sequence[Way], now: datetime) -> datetime:
        """Later and later; and not before one of the ways may be tried again."""
        sending = self._rules.sending
        wait_s = sending.retry_after_s(attempts) * (1 + sending.jitter * self._chance.uniform(-1, 1))
        earliest = min((self._use.rests_until(way, now) or now for way in ways), default=now)
        return max(now + timedelta(seconds=wait_s), earliest)

    def _rests(self, way: Way) -> bool:
        return self._use.rests_until(way, self._clock.now()) is not None

    def _nobody_of_that_name(self, delivery: DeliveryRow, now: datetime) -> None:
        """They may be set up again: what is still true waits for that."""
        words = say("“{recipient}” is not told anything any more", recipient=delivery.recipient)
        if delivery.cleared_at is not None:
            self._give_up(delivery, words)
        elif delivery.error != words:
            self._records.delivery_failed(delivery.id, now, words, now)

    def _give_up(self, delivery: DeliveryRow, why: str) -> None:
        self._records.delivery_failed(delivery.id, self._clock.now(), why, None)


def _parcels(
    deliveries: Iterable[DeliveryRow], rules: AlertRules, now: datetime, board_link: str
) -> list[Parcel]:
    """Those tried least often first, so that one that is never taken holds up no other.

    What may have arrived together goes together again, and nothing new with it: under a key that is known there must
    be nothing that is not.
    """
    batches: dict[tuple[str, datetime] | None, list[DeliveryRow]] = {}
    for delivery in deliveries:
        batches.setdefault(_last_doubtful(delivery), []).append(delivery)
    found = [parcel for batch in batches.values() for parcel in pack(batch, rules, now, board_link)]
    return sorted(found, key=lambda parcel: max(len(d.tries) for d in parcel.deliveries))


def _last_doubtful(delivery: DeliveryRow) -> tuple[str, datetime] | None:
    """By which way and when it went out so that nobody knows whether it arrived."""
    doubtful = [t for t in delivery.tries if t.outcome in (None, Outcome.UNCLEAR)]
    return (doubtful[-1].way, doubtful[-1].begun_at) if doubtful else None
