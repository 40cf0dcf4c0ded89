"""Carries out decisions: writes what is to be told to the records, from where the sender takes it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import AbstractContextManager
from datetime import datetime
from itertools import count, product
from random import Random
from typing import Protocol

from service.alerts import messages
from service.alerts.conditions import Condition
from service.alerts.decide import Decision, Reason, told_to
from service.alerts.escalate import Telling, places_for
from service.alerts.keys import OVER, PUT_OFF, again, coat_on_mould, with_extra
from service.alerts.kinds import Echo
from service.alerts.message import Message
from service.alerts.others import words_said
from service.alerts.replies import held, last_word
from service.alerts.rules import AlertRules
from service.alerts.sender import ReplyLines, Sender, SenderRecords, no_lines
from service.alerts.taken_on import Word
from service.alerts.tryout import TriedOut
from service.alerts.waiting import same_hand, waits_since
from service.alerts.ways import Ways, without_a_way
from service.alerts.who_is_told import WhoIsTold, who_is_told
from service.alerts.wordings import Wordings
from service.clock import Clock
from service.local_time import local
from service.records.outbox import AlertRow, NewAlert, ReplyRow
from service.room.views import Trouble


class AlertRecords(SenderRecords, Protocol):
    """The part of the records that the outbox uses."""

    def tell(self, new: NewAlert, recipients: list[str]) -> AlertRow: ...

    def tell_more(self, key: str, recipients: list[str]) -> None: ...

    def clear_alert(self, key: str, at: datetime) -> None: ...

    def alert(self, key: str) -> AlertRow | None: ...

    def open_alerts(self) -> list[AlertRow]: ...

    def reply(
        self, alert_id: int, person: str, what: str, at: datetime, until: datetime | None
    ) -> ReplyRow: ...


class Outbox:
    """`ways`: how everybody is reached. `link_base`: what the links in messages start with, such as http://shed:8321.

    wordings: each person's own words; None: everybody has the shop's.
    """

    def __init__(
        self,
        records: AlertRecords,
        ways: Ways,
        clock: Clock,
        rules: AlertRules,
        link_base: str = "",
        chance: Random | None = None,
        reply_lines: ReplyLines = no_lines,
        wordings: Wordings | None = None,
    ) -> None:
        self._records = records
        self._clock = clock
        self._rules = rules
        self._link_base = link_base.rstrip("/")
        self._wordings = wordings or Wordings()
        self._sender = Sender(
            records, ways, clock, rules, self._link(""), chance, reply_lines, self._wordings
        )

    def not_sending(self) -> AbstractContextManager[object]:
        """No round of sending begins while this lasts."""
        return self._sender.beginning

    def take(self, rules: AlertRules, taken: Callable[[], None] = lambda: None) -> None:
        """Go by these rules from now on; `taken` is done with them, while no round of sending begins."""
        with self.not_sending():
            taken()
            self._rules = rules
            self._sender.take(rules)

    def put(self, decisions: Iterable[Decision]) -> None:
        """Write down what is to be told and what is over. Raises what the records raise."""
        for decision in decisions:
            if decision.condition and decision.reason is Reason.TELL:
                self._tell(decision.condition)
            elif decision.condition and decision.alert and decision.reason is Reason.REMIND:
                self._remind(decision.condition, decision.alert, decision.number, decision.recipients)
            elif decision.alert and decision.reason is Reason.CLEAR:
                self._say_over(decision.alert)
            elif decision.condition and decision.alert and decision.reason is Reason.PUT_OFF:
                self._say_put_off(decision.condition, decision.alert)
            elif decision.alert and decision.reason is Reason.CLEAR_QUIETLY:
                self._hand_on_words(decision.alert)
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
        return without_a_way(names, *self._sender.ways_now())

    def send_due(self, wait: bool = True) -> None:
        """Send what is due; see `Sender.send_due`."""
        self._sender.send_due(wait)

    def send_test(self, to: str | None = None, by: str | None = None) -> list[TriedOut]:
        """Send a test by every way of everybody, or of one, or `by` one way of theirs."""
        return self._sender.send_test(to, by)

    def troubles(self) -> list[Trouble]:
        """What the board must show about messages that do not go out."""
        return self._sender.troubles()

    def who_is_told(self) -> list[WhoIsTold]:
        """Everybody who is told something, and by which ways."""
        today = local(self._clock.now(), self._records.site()).date()
        return who_is_told(self._rules, *self._sender.ways_now(), today)

    def close(self) -> None:
        """Stop sending at once; what is not settled stays due and goes out after the next start."""
        self._sender.close()

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

    def _hand_on_words(self, ended: AlertRow) -> None:
        """What holds of a longest wait that is near holds on when it becomes another; before the first is closed."""
        words = held(ended, self._clock.now())
        bells = same_hand(ended, self._records.open_alerts())[1:] if words else []
        own = [bell for bell in bells if coat_on_mould(bell.key) == coat_on_mould(ended.key)]
        for bell, word in product(own, words):
            if last_word(bell, word.person) is None:
                self._records.reply(bell.id, word.person, word.what, word.at, word.until)

    def _pass_on(self, word: Word) -> None:
        tell = messages.on_the_way if word.comes else messages.not_on_the_way
        alert = word.alert
        message = tell(alert.subject, word.reply.person, self._wordings.of(alert))
        said = self._said(word.key, message, alert.link)
        about = (alert.subject, alert.mould_id, word.reply.at)
        self._records.tell(NewAlert(word.key, Echo.TAKEN_ON, *about, *said), list(word.recipients))
        self._records.tell_more(word.key, list(word.recipients))

    def _say_over(self, alert: AlertRow) -> None:
        """The all clear is written before the alert is closed: a crash in between says it once, not never."""
        now = self._clock.now()
        message = messages.all_clear(self._wordings.of(alert), alert.since or alert.opened_at, now)
        key = with_extra(alert.key, OVER)
        said = self._said(key, message, alert.link)
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
        said = self._said(key, message, self._link(condition.page))
        return NewAlert(key, kind, *about, *said, condition.dip_before, condition.tank)

    def _said(self, key: str, message: Message, link: str) -> tuple[str, str, str]:
        """Title, body and link as they are recorded; for whoever is spoken to otherwise, their words are kept."""
        self._wordings.keep(key, message, self._rules.people)
        return message.title, message.body, link

    def _link(self, page: str) -> str:
        return f"{self._link_base}/{page}" if self._link_base else ""
