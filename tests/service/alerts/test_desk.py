"""The desk: look at a board, and what is to be told lies in the outbox, for whom it is meant."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from threading import Thread
from typing import Any

import pytest

from service.alerts.clock_wrong import clock_behind
from service.alerts.desk import AlertDesk
from service.alerts.fakes import MemoryRecords, fake_ways
from service.alerts.kinds import Kind
from service.alerts.notifiers.fake import FakeNotifier
from service.alerts.outbox import Outbox
from service.alerts.rules import AlertRules
from service.alerts.ways import mark_of
from service.clock import FakeClock
from service.records.database import Database
from service.records.facts import MouldBody, Zone, ZoneKind
from service.records.outbox import AlertRow, NewAlert
from service.records.store import Records
from service.room.views import MouldNow
from tests.service.alerts.scene import (
    NOW,
    RECIPE,
    SITE,
    board,
    hours,
    minutes,
    mould,
    ready,
    room,
    rules,
    silent,
    true,
)

PHONE = rules(places=[{"name": "phone", "send_to": "json://127.0.0.1:1"}])
BENCHES = rules(
    people=[
        {"name": "bench 1", "works": ["Mon-Fri 07:00-17:00"]},
        {"name": "bench 2", "turn": 2, "works": ["Mon-Fri 07:00-17:00"]},
    ]
)
NAMES = ("phone", "bench 1", "bench 2")


class Shop:
    """A desk with everything fake around it. `answers`: what each way answers before it takes everything."""

    def __init__(
        self,
        rules_: AlertRules,
        at: datetime = NOW,
        database: Database | None = None,
        **answers: list[bool],
    ) -> None:
        self.clock = FakeClock(at)
        real = Records(database, self.clock) if database else None
        self.records = real or MemoryRecords(self.clock, SITE)
        self.phones = {name: FakeNotifier(answers.get(name.replace(" ", "_"), ())) for name in NAMES}
        outbox = Outbox(self.records, fake_ways(**self.phones), self.clock, rules_)
        self.desk = AlertDesk(self.records, outbox, rules_, self.clock)

    def look(self, *moulds: MouldNow) -> None:
        self.desk.look(replace(board(*moulds), at=self.clock.now()), self.clock.now())
        self.desk.outbox.send_due()

    def play(self, until: timedelta, *moulds: MouldNow) -> None:
        """A look a minute for so long, the first of them now."""
        end = self.clock.now() + until
        while self.clock.now() < end:
            self.look(*moulds)
            self.clock.advance(60)

    def titles(self, name: str) -> list[str]:
        return [notice.title for notice in self.phones[name].taken]

    @property
    def bell(self) -> AlertRow:
        return next(row for row in self.records.open_alerts() if row.kind == "next dip due")


def test_looking_writes_down_and_sends_nothing_yet() -> None:
    shop = Shop(PHONE)
    shop.desk.look(board(ready()), NOW)
    assert [row.kind for row in shop.records.open_alerts()] == ["next dip due"]
    assert shop.phones["phone"].tried == []
    shop.desk.outbox.send_due()
    assert len(shop.phones["phone"].taken) == 1


def test_looking_twice_writes_once() -> None:
    shop = Shop(PHONE)
    for _ in range(2):
        shop.look(ready())
    assert len(shop.records.recent_alerts(9)) == 1


@pytest.mark.parametrize(
    ("listening_since", "told"),
    [(NOW - hours(1), 1), (NOW - minutes(15), 1), (NOW - minutes(1), 0), (None, 0)],
)
def test_sensors_are_judged_by_how_long_they_could_be_heard(
    listening_since: datetime | None, told: int
) -> None:
    shop = Shop(PHONE)
    shop.desk.look(board(rooms=(room(sensors=(silent("bench", hours(9)),)),)), listening_since)
    assert len(shop.records.open_alerts()) == told


def test_what_comes_ready_together_goes_as_one_though_it_is_sent_in_the_middle_of_the_look() -> None:
    shop = Shop(PHONE)
    sending: list[Thread] = []
    tell = shop.records.tell

    def slowly(new: NewAlert, recipients: list[str]) -> AlertRow:
        row = tell(new, recipients)
        sending.append(Thread(target=shop.desk.outbox.send_due))
        sending[-1].start()
        sending[-1].join(0.05)
        return row

    shop.records.tell = slowly  # type: ignore[method-assign]
    shop.desk.look(board(ready(), ready(id=4, name="Curlew")), NOW)
    for thread in sending:
        thread.join(10)
    assert [title.partition(":")[0] for title in shop.titles("phone")] == ["2 to dip"]


def test_what_is_true_besides_is_told_like_what_is_on_the_board() -> None:
    shop = Shop(PHONE)
    shop.desk.look(board(), NOW, [true()])
    shop.desk.outbox.send_due()
    assert shop.titles("phone") == ["title"]


def test_the_first_person_is_told_in_the_look_that_opens_the_alert() -> None:
    shop = Shop(BENCHES)
    shop.look(ready())
    assert len(shop.titles("bench 1")) == 1
    assert shop.titles("bench 2") == []


def test_from_person_to_person_with_reminders_between() -> None:
    """Told at 14:20; reminded after half an hour, the next after an hour; three reminders, and then it is quiet."""
    shop = Shop(BENCHES)
    shop.play(hours(2), ready())  # up to 16:19
    first, second = shop.titles("bench 1"), shop.titles("bench 2")
    assert [title.startswith("Still: ") for title in first] == [False, True, True]  # 14:20, 14:50, 15:50
    assert [title.startswith("Still: ") for title in second] == [False, True]  # 15:20, 15:50
    assert (
        shop.phones["bench 2"].taken[0].body.splitlines()[1]
        == "bench 1 was told at 14:20 and has not answered"
    )
    shop.play(hours(48), ready())
    assert (len(shop.titles("bench 1")), len(shop.titles("bench 2"))) == (4, 3)  # at 16:50, too


def test_the_same_with_records_on_the_disk(tmp_path: Path) -> None:
    """Put down, tried, reminded, answered and passed on, each in the tables."""
    with Database(f"sqlite:///{tmp_path / 'coatbell.db'}") as database:
        shop = Shop(BENCHES, NOW.replace(hour=9), database)
        for number in range(3):  # what is told points at a mould
            _hang_up(shop.records, number)
        shop.play(minutes(61), ready())
        bell = shop.bell
        assert [(d.recipient, d.delivered_at) for d in bell.deliveries] == [
            ("bench 1", bell.opened_at),
            ("bench 2", bell.opened_at + minutes(60)),
        ]
        shop.records.reply(bell.id, "bench 2", "on my way", shop.clock.now(), shop.clock.now() + minutes(30))
        shop.play(minutes(40), ready())
        assert [title.partition(":")[0] for title in shop.titles("bench 1")] == [
            "Heron",
            "Still",
            "Heron",
            "Still",
        ]
        shop.play(minutes(1))
        assert shop.records.open_alerts() == []


def test_a_reminder_that_comes_due_after_work_waits_for_the_morning() -> None:
    shop = Shop(BENCHES, NOW.replace(hour=15))
    shop.play(hours(16) - minutes(20), ready())  # told at 15:20, reminded at 15:50 and 16:50; up to 06:59
    assert len(shop.titles("bench 1")) == 3
    shop.play(hours(24), ready())
    assert len(shop.titles("bench 1")) == 4


def test_at_night_nobody_is_told_and_at_seven_the_first_is() -> None:
    shop = Shop(BENCHES, NOW.replace(hour=23))
    shop.play(hours(7) + minutes(40), ready())  # up to 06:59
    assert shop.titles("bench 1") == shop.titles("bench 2") == []
    assert shop.bell.deliveries == ()
    shop.look(ready())
    assert (len(shop.titles("bench 1")), len(shop.titles("bench 2"))) == (1, 0)


def test_a_word_keeps_everybody_quiet_and_is_told_to_the_others() -> None:
    shop = Shop(BENCHES, NOW.replace(hour=9))
    shop.play(minutes(61), ready())
    heard = len(shop.titles("bench 1"))
    shop.records.reply(shop.bell.id, "bench 2", "on my way", shop.clock.now(), shop.clock.now() + minutes(30))
    shop.play(minutes(29), ready())
    assert shop.titles("bench 1")[heard:] == ["Heron: bench 2 is on the way"]
    shop.play(minutes(2), ready())  # half an hour, and nobody dipped
    assert [title[:6] for title in shop.titles("bench 1")[heard + 1 :]] == ["Still:"]
    assert "bench 2 said at 10:21: on my way" in shop.phones["bench 1"].taken[-1].body


def test_who_is_on_the_way_stays_so_when_a_longest_wait_that_was_near_ends() -> None:
    """The bell it was said to becomes another: nobody else is told before the word runs out."""
    shop = Shop(BENCHES, NOW.replace(hour=9))
    drying = mould(longest_wait_until=shop.clock.now() + minutes(10), due_at=None, zones=())
    shop.look(drying)
    (near,) = shop.records.open_alerts()
    shop.records.reply(near.id, "bench 1", "on my way", shop.clock.now(), shop.clock.now() + minutes(30))
    shop.play(minutes(30), drying)
    (past,) = [row for row in shop.records.open_alerts() if row.kind == "waiting too long"]
    assert [(word.person, word.until) for word in past.replies] == [("bench 1", near.opened_at + minutes(30))]
    assert shop.titles("bench 2") == []
    assert len(shop.titles("bench 1")) == 2
    shop.play(minutes(16), drying)
    assert len(shop.titles("bench 2")) == 1


def test_a_word_that_ran_out_or_was_taken_back_is_not_handed_on() -> None:
    shop = Shop(BENCHES, NOW.replace(hour=9))
    drying = mould(longest_wait_until=shop.clock.now() + minutes(10), due_at=None, zones=())
    shop.look(drying)
    (near,) = shop.records.open_alerts()
    shop.records.reply(near.id, "bench 1", "on my way", shop.clock.now(), shop.clock.now() + minutes(10))
    shop.records.reply(near.id, "bench 2", "later", shop.clock.now(), shop.clock.now() + minutes(30))
    shop.records.reply(near.id, "bench 2", "taken back", shop.clock.now(), None)
    shop.play(minutes(12), drying)
    (past,) = [row for row in shop.records.open_alerts() if row.kind == "waiting too long"]
    assert past.replies == ()


def test_who_wants_bells_alone_is_not_left_to_a_longest_wait_nobody_hears_of() -> None:
    """Both are true at the first look: the longest wait would speak for the bell."""
    people = [{"name": "bench 1", "kinds": ["next dip due"]}, {"name": "bench 2", "turn": 2}]
    late = ready(since=minutes(90), longest_wait_until=NOW + minutes(10))
    shop = Shop(rules(people=people))
    shop.play(minutes(31), late)
    assert [title[:6] for title in shop.titles("bench 1")] == ["Heron:", "Still:"]
    shop = Shop(rules(people=[{"name": "bench 1"}, people[1]]))
    shop.look(late)
    assert [notice.kind for notice in shop.phones["bench 1"].taken] == ["longest wait near"]


def test_a_dip_ends_it_all() -> None:
    shop = Shop(BENCHES)
    shop.play(minutes(40), ready())
    shop.play(hours(24))
    assert shop.records.open_alerts() == []
    assert len(shop.titles("bench 1")) == 2


def test_a_dead_phone_passes_the_turn_on() -> None:
    shop = Shop(BENCHES, NOW.replace(hour=9), bench_1=[False] * 999)
    shop.play(minutes(61), ready())
    assert shop.titles("bench 1") == []
    assert len(shop.titles("bench 2")) == 1
    assert shop.phones["bench 2"].taken[0].body.splitlines()[1] == "bench 1 could not be reached"


def test_whose_ways_are_all_switched_off_is_passed_over_at_once() -> None:
    shop = Shop(BENCHES)
    shop.records.switch_off("bench 1", "fake", mark_of("bench 1"), NOW, "gone")
    assert shop.desk.outbox.deaf() == {"bench 1"}
    shop.look(ready())
    assert len(shop.titles("bench 2")) == 1
    shop.records.switch_on("bench 1", mark_of("bench 1"))
    assert shop.desk.outbox.deaf() == frozenset()


def test_a_person_without_a_way_cannot_be_reached() -> None:
    clock = FakeClock(NOW)
    records = MemoryRecords(clock, SITE)
    outbox = Outbox(records, fake_ways(phone=FakeNotifier()), clock, BENCHES)
    assert outbox.deaf() == {"bench 1", "bench 2"}


def _hang_up(records: Any, number: int) -> None:
    records.save_site(SITE)
    hung = records.add_room(f"Room {number}")
    face = Zone(name="breast", kind=ZoneKind.OPEN_FACE, height_m=0.4, width_m=0.2)
    body = MouldBody(name=f"mould {number}", room_id=hung.id, zones=(face,), recipe=RECIPE)
    records.append(None, body, NOW - hours(30), "bench 1")


class TestAClockThatIsWrong:
    """One clock for all, so that it can be set."""

    def desk(self, clock: FakeClock, records: MemoryRecords) -> AlertDesk:
        return AlertDesk(
            records, Outbox(records, fake_ways(phone=FakeNotifier()), clock, PHONE), PHONE, clock
        )

    def test_while_nothing_else_can_be_judged_only_its_own_kind_is(self) -> None:
        clock = FakeClock(NOW)
        records = MemoryRecords(clock, SITE)
        desk = self.desk(clock, records)
        desk.look(board(ready()), NOW)
        clock.jump(NOW - hours(900))
        desk.look_only(Kind.CLOCK_WRONG, [clock_behind(NOW, clock.now(), SITE, True)])
        assert [row.kind for row in records.open_alerts()] == [Kind.NEXT_DIP, Kind.CLOCK_WRONG]
        desk.look_only(Kind.CLOCK_WRONG, [])
        assert [row.kind for row in records.open_alerts()] == [Kind.NEXT_DIP]

    @pytest.mark.parametrize(("put_back", "open_"), [(True, 1), (False, 0)])
    def test_what_was_told_at_an_hour_that_comes_again_is_left_as_it_is(
        self, put_back: bool, open_: int
    ) -> None:
        clock = FakeClock(NOW)
        records = MemoryRecords(clock, SITE)
        desk = self.desk(clock, records)
        desk.look(board(ready()), NOW)
        clock.jump(NOW - hours(5))
        desk.look(board(at=clock.now()), NOW, put_back=put_back)
        assert len(records.open_alerts()) == open_

    def test_come_round_to_that_hour_it_is_judged_again(self) -> None:
        clock = FakeClock(NOW)
        records = MemoryRecords(clock, SITE)
        desk = self.desk(clock, records)
        desk.look(board(ready()), NOW)
        clock.jump(NOW - timedelta(microseconds=1))
        desk.look(board(), NOW, put_back=True)
        assert len(records.open_alerts()) == 1
        clock.jump(NOW)
        desk.look(board(ready()), NOW, put_back=True)
        assert len(records.open_alerts()) == 1
        desk.look(board(), NOW, put_back=True)
        assert records.open_alerts() == []
        assert len(records.recent_alerts(9)) == 1
