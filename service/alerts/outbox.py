"""Carries out decisions: writes what is to be told to the records, and sends it until somebody said yes.

An alert counts as told only once a notifier took it, so a crash in between repeats a message and never loses one. No
database transaction is open while something is sent.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta
from itertools import count
from typing import Protocol

from service.alerts import messages
from service.alerts.conditions import Condition
from service.alerts.decide import Decision, Reason, told_at, told_to
from service.alerts.keys import OVER, PUT_OFF, again, with_extra
from service.alerts.kinds import Echo
from service.alerts.messages import Message
from service.alerts.notifiers.notifier import Answer, Notice
from service.alerts.parcels import Parcel, held_back, is_moot, pack
from service.alerts.rules import AlertRules
from service.alerts.ways import Way, Ways
from service.clock import Clock
from service.records.outbox import AlertRow, DeliveryRow, NewAlert, Outcome
from service.records.shop_facts import Site
from service.records.ways_store import WayOff
from service.room.views import Trouble

log = logging.getLogger(__name__)


class AlertRecords(Protocol):
    """The part of the records that the outbox uses."""

    def site(self) -> Site | None: ...

    def tell(self, new: NewAlert, recipients: list[str]) -> AlertRow: ...

    def tell_more(self, key: str, recipients: list[str]) -> None: ...

    def clear_alert(self, key: str, at: datetime) -> None: ...

    def alert(self, key: str) -> AlertRow | None: ...

    def open_alerts(self) -> list[AlertRow]: ...

    def due_deliveries(self, now: datetime) -> list[DeliveryRow]: ...

    def failed_deliveries(self) -> list[DeliveryRow]: ...

    def begin_try(self, delivery_ids: Sequence[int], way: str, at: datetime, repeat: bool) -> list[int]: ...

    def end_try(
        self,
        try_ids: Sequence[int],
        outcome: Outcome,
        at: datetime,
        words: str,
    ) -> None: ...

    def delivery_failed(
        self, delivery_id: int, at: datetime, error: str, next_try_at: datetime | None
    ) -> None: ...

    def switch_off(self, recipient: str, way: str, mark: str, at: datetime, words: str) -> None: ...

    def switch_on(self, recipient: str, mark: str) -> None: ...

    def ways_off(self) -> list[WayOff]: ...


ReplyLines = Callable[[str, Sequence[DeliveryRow], datetime], Sequence[str]]
"""What stands at the end of a message to somebody: how it is answered."""


class Outbox:
    """`ways`: how everybody is reached. `link_base`: what the links in messages start with, such as http://shed:8321."""

    def __init__(
        self,
        records: AlertRecords,
        ways: Ways,
        clock: Clock,
        rules: AlertRules,
        link_base: str = "",
        reply_lines: ReplyLines = lambda recipient, deliveries, now: (),
    ) -> None:
        self._records = records
        self._ways = ways
        self._clock = clock
        self._rules = rules
        self._link_base = link_base.rstrip("/")
        self._reply_lines = reply_lines
        self._closed = False
        self._sending = threading.Lock()
        self._taken_unwritten: set[tuple[int, ...]] = set()  # went out, but the records could not be written

    def put(self, decisions: Iterable[Decision]) -> None:
        """Write down what is to be told and what is over. Raises what the records raise."""
        for decision in decisions:
            if decision.condition and decision.reason is Reason.TELL:
                self._tell(decision.condition)
            elif decision.condition and decision.alert and decision.reason is Reason.REMIND:
                self._remind(decision.condition, decision.alert, decision.number)
            elif decision.alert and decision.reason is Reason.CLEAR:
                self._say_over(decision.alert)
            elif decision.condition and decision.alert and decision.reason is Reason.PUT_OFF:
                self._say_put_off(decision.condition, decision.alert)
            elif decision.alert and decision.reason is Reason.CLEAR_QUIETLY:
                self._records.clear_alert(decision.alert.key, self._clock.now())

    def send_due(self) -> None:
        """Try everything that is due. A recipient that does not take one message is left alone for this round."""
        with self._sending:
            for tries in sorted(self._taken_unwritten):
                self._taken(tries)
            parcels = pack(self._sendable(), self._rules, self._clock.now(), self._link(""))
            self._send_all([self._answerable(parcel) for parcel in parcels])

    def send_test(self) -> list[str]:
        """Send everybody a message that says it is a test. One sentence a recipient: whether it went out."""
        message = Message("coatbell: a test", "If you can read this, alerts will reach you.")
        with self._sending:
            return [self._test(way, message) for way in self._ways.all()]

    def troubles(self) -> list[Trouble]:
        """What the board must show about messages that do not go out, one a recipient."""
        failed: dict[str, list[DeliveryRow]] = {}
        for delivery in self._records.failed_deliveries():
            failed.setdefault(delivery.recipient, []).append(delivery)
        return [self._trouble(name, rows) for name, rows in failed.items()]

    def close(self) -> None:
        """Stop sending at once; what is not settled stays due and goes out after the next start."""
        self._closed = True
        self._ways.close()

    def _tell(self, condition: Condition) -> None:
        key = self._free_key(condition.key)
        if key is not None:
            new = self._alert(key, condition.kind, condition, condition.message)
            told = [r.name for r in self._rules.recipients if r.wants(condition.kind)]
            self._records.tell(new, told)

    def _free_key(self, key: str) -> str | None:
        """The key for this time. None: it is told already."""
        for number in count(1):
            row = self._records.alert(again(key, number))
            if row is None:
                return again(key, number)
            if row.cleared_at is None:
                return None
        raise AssertionError("count() does not end")

    def _remind(self, condition: Condition, alert: AlertRow, number: int) -> None:
        message = messages.reminder(condition.message, told_at(alert) or alert.opened_at, self._clock.now())
        new = self._alert(with_extra(alert.key, number), Echo.REMINDER, condition, message)
        self._records.tell(new, told_to(alert))

    def _say_over(self, alert: AlertRow) -> None:
        """The all clear is written before the alert is closed: a crash in between says it once, not never."""
        now = self._clock.now()
        message = messages.all_clear(alert.title, alert.since or alert.opened_at, now)
        key = with_extra(alert.key, OVER)
        said = (message.title, message.body, alert.link)
        self._records.tell(
            NewAlert(key, Echo.ALL_CLEAR, alert.subject, alert.mould_id, now, *said), told_to(alert)
        )
        self._records.clear_alert(alert.key, now)
        self._records.clear_alert(key, now)

    def _say_put_off(self, condition: Condition, alert: AlertRow) -> None:
        """Written before the bell is closed, as with the all clear; it stays open as long as it is so."""
        new = self._alert(with_extra(alert.key, PUT_OFF), Echo.PUT_OFF, condition, condition.message)
        self._records.tell(new, told_to(alert))
        self._records.clear_alert(alert.key, self._clock.now())

    def _alert(self, key: str, kind: str, condition: Condition, message: Message) -> NewAlert:
        about = (condition.subject, condition.mould_id, condition.since)
        said = (message.title, message.body, self._link(condition.page))
        return NewAlert(key, kind, *about, *said, condition.dip_before, condition.tank)

    def _link(self, page: str) -> str:
        return f"{self._link_base}/{page}" if self._link_base else ""

    def _sendable(self) -> list[DeliveryRow]:
        """What is due and still worth sending now; the rest is given up, or waits for the quiet hours to end."""
        now, site = self._clock.now(), self._records.site()
        sendable = []
        for delivery in self._records.due_deliveries(now):
            if self._rules.recipient(delivery.recipient) is None:
                self._give_up(delivery, f"“{delivery.recipient}” is not in alerts.toml any more")
            elif is_moot(delivery):
                self._give_up(delivery, "no longer true")
            elif not held_back(delivery, now, site, self._rules):
                sendable.append(delivery)
        return sendable

    def _answerable(self, parcel: Parcel) -> Parcel:
        return parcel.with_lines(self._reply_lines(parcel.recipient, parcel.deliveries, self._clock.now()))

    def _send_all(self, parcels: Sequence[Parcel]) -> None:
        ways: dict[str, list[Way]] = {}
        for way in self._ways.all():
            ways.setdefault(way.recipient, []).append(way)
        away: set[str] = set()
        for parcel in parcels:
            found = ways.get(parcel.recipient, []) if parcel.recipient not in away else []
            if not self._told(parcel, found):
                away.add(parcel.recipient)
                if not self._closed:
                    self._put_off(parcel)

    def _told(self, parcel: Parcel, ways: Sequence[Way]) -> bool:
        """Try one way after the other until one takes it."""
        return any(not self._closed and self._tell_by(way, parcel) for way in ways)

    def _tell_by(self, way: Way, parcel: Parcel) -> bool:
        repeat = any(d.may_have_arrived for d in parcel.deliveries)
        ids = [d.id for d in parcel.deliveries]
        tries = tuple(self._records.begin_try(ids, way.name, self._clock.now(), repeat))
        answer = self._send(way, parcel.notice(repeat))
        if answer.taken:
            self._taken_unwritten.add(tries)
            self._taken(tries)
        elif not self._closed:  # what was broken off stays as it is: it may have arrived
            words = answer.words or "it did not go out"
            self._records.end_try(tries, answer.outcome, self._clock.now(), words)
        return answer.taken

    def _send(self, way: Way, notice: Notice) -> Answer:
        try:
            return way.notifier.send(notice)
        except Exception:
            log.exception("telling %s failed", way.recipient)
            return Answer(Outcome.UNCLEAR, "sending stumbled; coatbell's log says over what")

    def _put_off(self, parcel: Parcel) -> None:
        now = self._clock.now()
        for delivery in parcel.deliveries:
            wait = self._rules.sending.retry_after_s(delivery.attempts + 1)
            error = f"the message to “{parcel.recipient}” did not go out"
            self._records.delivery_failed(delivery.id, now, error, now + timedelta(seconds=wait))

    def _taken(self, tries: tuple[int, ...]) -> None:
        """Kept in mind until it is written, so that a full disk does not make the same message go out each minute."""
        self._records.end_try(tries, Outcome.TAKEN, self._clock.now(), "")
        self._taken_unwritten.discard(tries)

    def _give_up(self, delivery: DeliveryRow, why: str) -> None:
        self._records.delivery_failed(delivery.id, self._clock.now(), why, None)

    def _test(self, way: Way, message: Message) -> str:
        key = f"test-message/{self._clock.now():%Y-%m-%dT%H:%M:%SZ}"
        answer = self._send(way, Notice(message.title, message.body, key))
        if answer.taken:
            return f"{way.recipient}: sent"
        return f"{way.recipient}: did not go out; look at its send_to in alerts.toml"

    def _trouble(self, name: str, rows: Sequence[DeliveryRow]) -> Trouble:
        since = min(row.opened_at for row in rows)
        many = "One message" if len(rows) == 1 else f"{len(rows)} messages"
        known = self._rules.recipient(name) is not None
        todo = "coatbell keeps trying" if known else "nobody of that name is in alerts.toml any more"
        return Trouble("push_failed", f"{many} to {name} did not go out: {todo}", since)
