"""Rules and ways that change while messages wait, or while one is being sent: nothing is lost and nothing doubled."""

from __future__ import annotations

import threading
from dataclasses import replace
from typing import Any

import pytest

from service.alerts.desk import AlertDesk
from service.alerts.fakes import MemoryRecords
from service.alerts.kinds import Kind
from service.alerts.notifiers.build import LiveWays
from service.alerts.notifiers.fake import NO
from service.alerts.notifiers.notifier import TAKEN, Answer, Notice
from service.alerts.outbox import Outbox
from service.alerts.people import Address
from service.alerts.rules import AlertRules
from service.alerts.ways import Way, mark_of
from service.clock import FakeClock
from service.records.outbox import NewAlert, Outcome
from tests.service.alerts.notifiers.far_end import FarEnd, Says, far_end
from tests.service.alerts.scene import NOW, SITE, rules
from tests.service.alerts.test_desk import board, ready

REFUSED = Answer(Outcome.REFUSED, "answered 403 (Forbidden)")


class Phone:
    """Takes messages, or answers as it is told to; may be held up in the middle of one."""

    def __init__(self, *answers: Answer, hold: bool = False) -> None:
        self.got: list[str] = []
        self._answers = list(answers)
        self.reached, self.go_on = threading.Event(), threading.Event()
        if not hold:
            self.go_on.set()

    def send(self, notice: Notice) -> Answer:
        self.reached.set()
        assert self.go_on.wait(10)
        answer = self._answers.pop(0) if self._answers else TAKEN
        if answer.taken:
            self.got.append(notice.title)
        return answer

    def close(self) -> None: ...


class Shed:
    """An outbox whose rules and ways can be changed, as the wiring does it."""

    def __init__(self, **ways: Phone) -> None:
        self.clock = FakeClock(NOW)
        self.records = MemoryRecords(self.clock, SITE)
        self._ways: list[Way] = []
        self.rules = self._take_ways(ways)
        self.outbox = Outbox(self.records, self, self.clock, self.rules)
        self.desk = AlertDesk(self.records, self.outbox, self.rules, self.clock)

    def all(self) -> list[Way]:
        return self._ways

    def close(self) -> None: ...

    def change(self, **ways: Phone) -> None:
        """Other people, by other ways, from now on."""
        new = rules_of(ways)
        self.outbox.take(new, lambda: self._take_ways(ways) and None)
        self.desk.take(new)

    def _take_ways(self, ways: dict[str, Phone]) -> AlertRules:
        """``one_ntfy``: the way ntfy to one."""
        split = [(*name.split("_"), phone) for name, phone in ways.items()]
        self._ways = [Way(who, way, mark_of(f"{way} {id(phone)}"), phone) for who, way, phone in split]
        return rules_of(ways)

    def tell(self, key: str = "bell", *recipients: str) -> None:
        new = NewAlert(key, Kind.DEWAX, "Heron", 3, NOW, f"title of {key}", "ready", "")
        self.records.tell(new, list(recipients or ["one"]))

    def send(self, after_s: float = 5.0, wait: bool = True) -> None:
        self.clock.advance(after_s)
        self.outbox.send_due(wait)

    def tried(self, key: str = "bell") -> list[tuple[str, Outcome | None, bool]]:
        row = self.records.alert(key)
        assert row is not None
        return [(t.way, t.outcome, t.repeat) for t in row.deliveries[0].tries]


def rules_of(ways: dict[str, Phone]) -> AlertRules:
    names = dict.fromkeys(name.split("_")[0] for name in ways)
    return rules(people=[{"name": name, "ways": ["json://127.0.0.1:1"]} for name in names])


class TestWhileItWaits:
    def test_another_address_gets_it_once(self) -> None:
        old, new = Phone(NO), Phone()
        shed = Shed(one_ntfy=old)
        shed.tell()
        shed.send()
        shed.change(one_mail=new)
        shed.send(60)
        shed.send(3600)
        assert (old.got, new.got) == ([], ["title of bell"])
        assert shed.tried() == [("ntfy", Outcome.UNREACHED, False), ("mail", Outcome.TAKEN, False)]

    def test_what_the_old_one_refused_says_nothing_of_the_new(self) -> None:
        old, new = Phone(REFUSED, REFUSED), Phone()
        shed = Shed(one_ntfy=old)
        shed.tell()
        shed.send()
        shed.send(60)
        assert [trouble.code for trouble in shed.outbox.troubles()] == ["way_off", "no_way_left"]
        shed.change(one_ntfy=new)
        shed.send(3600)
        assert new.got == ["title of bell"]
        assert shed.outbox.troubles() == []

    def test_who_was_taken_away_is_waited_for_and_hears_it_when_back(self) -> None:
        one, two = Phone(), Phone()
        shed = Shed(one_ntfy=one, two_ntfy=two)
        shed.tell()
        shed.change(two_ntfy=two)
        shed.send()
        (delivery,) = shed.records.failed_deliveries()
        assert (one.got, two.got, delivery.delivered_at) == ([], [], None)
        shed.change(one_ntfy=one, two_ntfy=two)
        shed.send(60)
        shed.send(3600)
        assert one.got == ["title of bell"]

    def test_who_was_taken_away_hears_nothing_that_is_over(self) -> None:
        one, two = Phone(), Phone()
        shed = Shed(one_ntfy=one, two_ntfy=two)
        shed.tell()
        shed.change(two_ntfy=two)
        shed.records.clear_alert("bell", shed.clock.now())
        shed.send()
        shed.change(one_ntfy=one, two_ntfy=two)
        shed.send(3600)
        assert (one.got, shed.records.failed_deliveries()) == ([], [])

    def test_who_was_told_is_not_told_again_by_another_address(self) -> None:
        old, new = Phone(), Phone()
        shed = Shed(one_ntfy=old)
        shed.tell()
        shed.send()
        shed.change(one_mail=new)
        shed.send(3600)
        assert (old.got, new.got) == (["title of bell"], [])


class TestInTheMiddle:
    def test_what_is_being_taken_by_the_old_address_is_told(self) -> None:
        old, new = Phone(hold=True), Phone()
        shed = Shed(one_ntfy=old)
        shed.tell()
        shed.send(wait=False)
        assert old.reached.wait(10)
        shed.change(one_mail=new)
        old.go_on.set()
        shed.outbox._sender._rounds.wait("one", 10)
        shed.send()
        shed.send(3600)
        assert (old.got, new.got) == (["title of bell"], [])
        assert shed.tried() == [("ntfy", Outcome.TAKEN, False)]

    def test_what_the_old_address_does_not_take_goes_to_the_new_at_once(self) -> None:
        old, spare, new = Phone(NO, hold=True), Phone(), Phone()
        shed = Shed(one_ntfy=old, one_mail=spare)
        shed.tell()
        shed.send(wait=False)
        assert old.reached.wait(10)
        shed.change(one_sms=new)
        old.go_on.set()
        shed.outbox._sender._rounds.wait("one", 10)
        shed.send(5)
        assert (old.got, spare.got, new.got) == ([], [], ["title of bell"])

    def test_nobody_is_told_by_an_address_that_was_taken_away(self) -> None:
        old, spare = Phone(NO, hold=True), Phone()
        shed = Shed(one_ntfy=old, one_mail=spare, two_ntfy=Phone())
        shed.tell()
        shed.send(wait=False)
        assert old.reached.wait(10)
        shed.change(two_ntfy=Phone())
        old.go_on.set()
        shed.outbox._sender._rounds.wait("one", 10)
        shed.send(60)
        assert spare.got == []
        assert len(shed.records.failed_deliveries()) == 1

    def test_the_next_message_of_a_round_goes_to_the_new_address(self) -> None:
        old, new = Phone(hold=True), Phone()
        shed = Shed(one_ntfy=old)
        shed.tell("bell 1")
        shed.records.tell(
            NewAlert("room", Kind.ROOM_OUT, "Room", None, NOW, "title of room", "", ""), ["one"]
        )
        shed.send(wait=False)
        assert old.reached.wait(10)
        shed.change(one_mail=new)
        old.go_on.set()
        shed.outbox._sender._rounds.wait("one", 10)
        shed.send(60)
        assert sorted(old.got + new.got) == ["title of bell 1", "title of room"]
        assert (len(old.got), len(new.got)) == (1, 1)


def test_who_is_added_while_a_bell_rings_is_the_next_to_be_told() -> None:
    one, two = Phone(), Phone()
    shed = Shed(one_ntfy=one)
    shed.desk.look(board(ready()), NOW)
    shed.send(0)
    shed.change(one_ntfy=one, two_ntfy=two)
    for _ in range(60):
        shed.desk.look(replace(board(ready()), at=shed.clock.now()), NOW)
        shed.send(60)
        assert two.got == []
    shed.desk.look(replace(board(ready()), at=shed.clock.now()), NOW)
    shed.send(0)
    assert len(two.got) == 1


class TestRealWays:
    """The shipped webhook, at a real far end that hangs."""

    def of(self, *phones: FarEnd, **more: Any) -> AlertRules:
        ways = [{"send_to": phone.address("webhook+http")} for phone in phones]
        return rules(people=[{"name": "one", "ways": ways}], **more)

    def test_an_address_that_stays_keeps_its_notifier(self) -> None:
        with far_end() as first, far_end() as second:
            ways = LiveWays()
            ways.take(self.of(first))
            (before,) = ways.all()
            ways.take(self.of(second, first))
            assert ways.all()[1].notifier is before.notifier
            ways.take(self.of(second))
            assert before.notifier.send(Notice("t", "b", "k")).taken, "what runs may come to its end"
            ways.close()
            assert not before.notifier.send(Notice("t", "b", "k")).taken

    def test_another_patience_makes_them_anew(self) -> None:
        with far_end(lambda received: Says()) as phone:
            ways = LiveWays()
            ways.take(self.of(phone))
            (before,) = ways.all()
            ways.take(self.of(phone, sending={"time_out": "5 s"}))
            (after,) = ways.all()
            assert after.notifier is not before.notifier
            assert after.mark == before.mark == mark_of(_only(self.of(phone)).send_to.get_secret_value())


def _only(rules_: AlertRules) -> Address:
    (way,) = rules_.ways_of("one")
    return way


@pytest.mark.parametrize("by", [None, "mail"])
def test_a_test_by_all_ways_or_one(by: str | None) -> None:
    ntfy, mail = Phone(), Phone()
    shed = Shed(one_ntfy=ntfy, one_mail=mail, two_ntfy=Phone())
    tried = shed.outbox.send_test("one", by)
    assert [each.way.name for each in tried] == (["ntfy", "mail"] if by is None else ["mail"])
    assert len(mail.got) == 1
