"""Carries out decisions: writes what is to be told to the records, and sends it until somebody said yes.

An alert counts as told only once a notifier took it, so a crash in between repeats a message and never loses one. No
database transaction is open while something is sent.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from itertools import count
from typing import Protocol

from service.alerts import messages
from service.alerts.conditions import Condition
from service.alerts.decide import Decision, Reason, told_to
from service.alerts.escalate import Telling, places_for
from service.alerts.keys import OVER, again, with_extra
from service.alerts.kinds import Echo
from service.alerts.messages import Message
from service.alerts.notifiers.notifier import Answer, Notice
from service.alerts.others import with_the_others, words_said
from service.alerts.parcels import Parcel, held_back, is_moot, pack
from service.alerts.rules import AlertRules
from service.alerts.taken_on import Word
from service.alerts.waiting import waits_since
from service.alerts.ways import Way, Ways, without_a_way
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


class Outbox:
    """`ways`: how everybody is reached. `link_base`: what the links in messages start with, such as http://shed:8321."""

    def __init__(
        self,
        records: AlertRecords,
        ways: Ways,
        clock: Clock,
        rules: AlertRules,
        link_base: str = "",
    ) -> None:
        self._records = records
        self._ways = ways
        self._clock = clock
        self._rules = rules
        self._link_base = link_base.rstrip("/")
        self._closed = False
        self._sending = threading.Lock()
        self._taken_unwritten: set[tuple[int, ...]] = set()  # went out, but the records could not be written

    def put(self, decisions: Iterable[Decision]) -> None:
        """Write down what is to be told and what is over. Raises what the records raise."""
        for decision in decisions:
            if decision.condition and decision.reason is Reason.TELL:
                self._tell(decision.condition)
            elif decision.condition and decision.alert and decision.reason is Reason.REMIND:
                self._remind(decision.condition, decision.alert, decision.number, decision.recipients)
            elif decision.alert and decision.reason is Reason.CLEAR:
                self._say_over(decision.alert)
            elif decision.alert and decision.reason is Reason.CLEAR_QUIETLY:
                self._records.clear_alert(decision.alert.key, self._clock.now())

    def tell_more(self, tellings: Iterable[Telling]) -> None:
        """Put more recipients down for what is open. Raises what the records raise."""
        for telling in tellings:
            self._records.tell_more(telling.key, list(telling.recipients))

    def pass_on(self, words: Iterable[Word]) -> None:
        """Tell the others what one said; written before what it takes the place of is closed."""
        for word in words:
            if word.recipients:
                self._pass_on(word)
            for key in word.ended:
                self._records.clear_alert(key, self._clock.now())

    def deaf(self) -> frozenset[str]:
        """The people to whom no way works."""
        names = [person.name for person in self._rules.people]
        return without_a_way(names, self._ways.all(), self._records.ways_off())

    def send_due(self) -> None:
        """Try everything that is due. A recipient that does not take one message is left alone for this round."""
        with self._sending:
            for tries in sorted(self._taken_unwritten):
                self._taken(tries)
            self._send_all(pack(self._sendable(), self._rules, self._link("")))

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
        """To the places; the people follow with `tell_more`, in the same look."""
        key = self._free_key(condition.key)
        if key is not None:
            new = self._alert(key, condition.kind, condition, condition.message)
            self._records.tell(new, places_for(condition, self._rules))

    def _free_key(self, key: str) -> str | None:
        """The key for this time. None: it is told already."""
        for number in count(1):
            row = self._records.alert(again(key, number))
            if row is None:
                return again(key, number)
            if row.cleared_at is None:
                return None
        raise AssertionError("count() does not end")

    def _remind(self, condition: Condition, alert: AlertRow, number: int, recipients: Sequence[str]) -> None:
        now = self._clock.now()
        told = waits_since(alert, self._rules) or alert.opened_at
        message = messages.reminder(
            condition.message, told, now, words_said(alert, self._records.site(), now)
        )
        new = self._alert(with_extra(alert.key, number), Echo.REMINDER, condition, message)
        self._records.tell(new, list(recipients))

    def _pass_on(self, word: Word) -> None:
        say = messages.on_the_way if word.comes else messages.not_on_the_way
        alert, message = word.alert, say(word.alert.subject, word.reply.person, word.alert.title)
        about = (alert.subject, alert.mould_id, word.reply.at, message.title, message.body, alert.link)
        self._records.tell(NewAlert(word.key, Echo.TAKEN_ON, *about), list(word.recipients))
        self._records.tell_more(word.key, list(word.recipients))

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

    def _alert(self, key: str, kind: str, condition: Condition, message: Message) -> NewAlert:
        about = (condition.subject, condition.mould_id, condition.since)
        return NewAlert(key, kind, *about, message.title, message.body, self._link(condition.page))

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
                sendable.append(self._with_the_others(delivery))
        return sendable

    def _with_the_others(self, delivery: DeliveryRow) -> DeliveryRow:
        alert = self._records.alert(delivery.alert.key)
        now, site = self._clock.now(), self._records.site()
        return with_the_others(delivery, alert, self._rules, site, now) if alert else delivery

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
