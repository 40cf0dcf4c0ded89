"""From decisions to messages taken: on the records kept in memory and on the real ones in SQLite."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from service.alerts.desk import AlertDesk
from service.alerts.fakes import MemoryRecords, fake_ways
from service.alerts.keys import moment
from service.alerts.kinds import Echo
from service.alerts.notifiers.fake import FakeNotifier
from service.alerts.notifiers.notifier import Answer, Notice
from service.alerts.outbox import AlertRecords, Outbox
from service.alerts.rules import AlertRules
from service.clock import FakeClock
from service.errors import Unavailable
from service.records.database import Database
from service.records.facts import MouldBody, Zone, ZoneKind
from service.records.outbox import NewAlert
from service.records.store import Records
from service.room.views import Board, Freshness, MouldNow, Stage, Trouble
from tests.service.alerts.scene import (
    LINK_BASE,
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
    sensor,
    silent,
)

PHONE = {"name": "phone", "send_to": "json://127.0.0.1:1"}
OFFICE = {"name": "office", "send_to": "json://127.0.0.1:1", "kinds": ["ready for dewax"]}
TWO = rules(places=[PHONE, {**PHONE, "name": "wall"}])


class Shop:
    """The alert part of the service, with a board that tests write on. `start` is what a restart does."""

    def __init__(self, records: AlertRecords, clock: FakeClock) -> None:
        self.records, self.clock = records, clock
        self.start(rules(places=[PHONE]))

    def start(self, rules_: AlertRules, **notifiers: FakeNotifier) -> None:
        self.rules = rules_
        self.notifiers = {r.name: notifiers.get(r.name, FakeNotifier()) for r in rules_.places}
        self.outbox = Outbox(self.records, fake_ways(**self.notifiers), self.clock, rules_, LINK_BASE)

    def tick(self, *moulds: MouldNow, **changes: Any) -> None:
        """What the service does each minute: look, decide, write down, send."""
        self.put(board(*moulds, **({"at": self.clock.now()} | changes)))
        self.outbox.send_due()

    def put(self, view: Board) -> None:
        AlertDesk(self.records, self.outbox, self.rules, self.clock).look(view, NOW - hours(99))

    def titles(self, name: str = "phone") -> list[str]:
        return [sent.title for sent in self.notifiers[name].taken]


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(NOW)


@pytest.fixture(params=["memory", "sqlite"])
def records(request: pytest.FixtureRequest, clock: FakeClock, tmp_path: Path) -> Iterator[AlertRecords]:
    if request.param == "memory":
        yield MemoryRecords(clock, SITE)
        return
    with Database(f"sqlite:///{tmp_path / 'coatbell.db'}") as database:
        yield real_records(database, clock)


def real_records(database: Database, clock: FakeClock, moulds: int = 9) -> Records:
    """Real records that know the site and some moulds, so that alerts can point at them."""
    found = Records(database, clock)
    found.save_site(SITE)
    hung = found.add_room("Shell room")
    face = Zone(name="breast", kind=ZoneKind.OPEN_FACE, height_m=0.4, width_m=0.2)
    for number in range(moulds):
        body = MouldBody(name=f"mould {number}", room_id=hung.id, zones=(face,), recipe=RECIPE)
        found.append(None, body, NOW - hours(30), "bench 1")
    return found


@pytest.fixture
def shop(records: AlertRecords, clock: FakeClock) -> Shop:
    return Shop(records, clock)


def dipped(shop: Shop) -> MouldNow:
    """Heron just after its fifth coat."""
    return mould(5, last_dip_at=shop.clock.now(), due_at=shop.clock.now() + hours(4))


BELL = "Heron: dip coat 5 of 9, backup, grey tank"


def test_a_bell_is_told_once_with_a_link_and_recorded_as_told(shop: Shop) -> None:
    shop.tick(ready())
    (sent,) = shop.notifiers["phone"].taken
    assert sent.title == BELL
    assert sent.body.endswith(f"\n{LINK_BASE}/mould/3\nMessage 1")
    (row,) = shop.records.open_alerts()
    assert (row.key, row.mould_id, row.since) == (sent.key, 3, NOW - minutes(5))
    assert row.deliveries[0].delivered_at == NOW
    shop.clock.advance(60)
    shop.tick(ready())
    assert shop.titles() == [BELL]


def test_everybody_who_wants_the_kind_has_a_delivery_of_their_own(shop: Shop) -> None:
    shop.start(rules(places=[PHONE, OFFICE]))
    shop.tick(ready(), ready(9, id=4, name="Bell", stage=Stage.DRY))
    assert shop.titles("office") == ["Bell: ready for dewax"]
    assert sorted(shop.titles()) == ["Bell: ready for dewax", BELL]


def test_the_dip_ends_the_bell_without_a_word(shop: Shop) -> None:
    shop.tick(ready())
    shop.clock.advance(60)
    shop.tick(dipped(shop))
    assert shop.records.open_alerts() == []
    assert shop.titles() == [BELL]


def test_a_bell_taken_back_says_so_once_and_rings_anew_and_nothing_else_does(shop: Shop) -> None:
    shop.tick(mould(due_at=NOW + minutes(9)))
    shop.clock.advance(60)
    shop.tick(mould(due_at=NOW + hours(5)))  # the air turned damp
    shop.clock.advance(hours(5).total_seconds())
    for _ in range(3):
        shop.clock.advance(60)
        shop.tick(ready())
    assert shop.titles() == [
        "Heron: dip at 14:29, coat 5 of 9, backup, grey tank",
        "Heron: coat 5 not yet, at 19:20 now",
        BELL,
    ]
    assert [row.key for row in shop.records.open_alerts()] == [f"next-dip-due/3/5/{moment(NOW - hours(3))}#2"]


def test_nothing_is_told_twice_after_a_restart(shop: Shop) -> None:
    shop.tick(ready())
    for _ in range(3):
        shop.start(shop.rules)
        shop.tick(ready())
        assert shop.titles() == []


def test_what_became_true_while_off_is_told_once_and_since_when(shop: Shop) -> None:
    shop.tick(mould())
    shop.clock.advance(hours(9).total_seconds())
    shop.start(shop.rules)
    shop.tick(ready(since=-hours(2)))
    (sent,) = shop.notifiers["phone"].taken
    assert "ready since 16:20" in sent.body
    shop.tick(ready(since=-hours(2)))
    assert len(shop.titles()) == 1


def test_written_but_not_sent_before_a_crash_goes_out_after_it(shop: Shop) -> None:
    shop.put(board(ready()))
    shop.start(shop.rules)
    shop.tick(ready())
    assert shop.titles() == [BELL]


def test_sent_but_not_recorded_before_a_crash_goes_out_again_with_the_same_key(shop: Shop) -> None:
    """At least once: the repeat can be recognised."""
    shop.put(board(ready()))
    before = shop.notifiers["phone"]
    before.send(Notice("as sent by the service that crashed", "", shop.records.open_alerts()[0].key))
    shop.start(shop.rules)
    shop.tick(ready())
    assert before.taken[0].key == shop.notifiers["phone"].taken[0].key


def test_a_failed_send_is_tried_again_later_and_later(shop: Shop) -> None:
    shop.start(shop.rules, phone=FakeNotifier([False] * 3))
    phone = shop.notifiers["phone"]
    tried_at = []
    for second in range(0, 600, 10):
        before = len(phone.tried)
        shop.tick(ready())
        tried_at += [second] * (len(phone.tried) - before)
        shop.clock.advance(10)
    assert tried_at == [0, 60, 180, 420]  # after 1, 2 and 4 minutes, to the instant
    assert len(phone.taken) == 1


def test_it_is_never_given_up_while_it_is_true(shop: Shop) -> None:
    shop.start(rules(places=[PHONE], not_picked_up={"most_reminders": 0}), phone=FakeNotifier([False] * 100))
    for _ in range(100):
        shop.tick(ready())
        shop.clock.advance(1800)
    assert len(shop.notifiers["phone"].tried) >= 95
    shop.clock.advance(1800)
    shop.tick(ready())
    assert shop.titles() == [BELL]


@pytest.mark.parametrize("failure", [False, OSError("no network"), RuntimeError("a plugin fell over")])
def test_an_exception_is_a_failure_like_any_other(shop: Shop, failure: bool | Exception) -> None:
    shop.start(shop.rules, phone=FakeNotifier([failure]))
    shop.tick(ready())
    (row,) = shop.records.failed_deliveries()
    assert (row.attempts, row.next_try_at, row.delivered_at) == (1, NOW + minutes(1), None)
    (trouble,) = shop.outbox.troubles()
    assert trouble == Trouble(
        "push_failed", "One message to phone did not go out: coatbell keeps trying", NOW
    )
    shop.clock.advance(60)
    shop.tick(ready())
    assert shop.outbox.troubles() == []


def test_one_recipient_who_is_away_does_not_keep_the_other_waiting(shop: Shop) -> None:
    shop.start(TWO, phone=FakeNotifier([False] * 9))
    shop.tick(ready(), ready(9, id=4, stage=Stage.DRY))
    assert len(shop.titles("wall")) == 2
    assert len(shop.notifiers["phone"].tried) == 1  # left alone for the rest of the round
    assert [d.attempts for d in shop.records.failed_deliveries()] == [1, 1]
    shop.clock.advance(60)
    shop.tick(ready(), ready(9, id=4, stage=Stage.DRY))
    assert len(shop.titles("wall")) == 2


def test_a_message_too_late_to_be_true_is_not_sent(shop: Shop) -> None:
    shop.start(shop.rules, phone=FakeNotifier([False]))
    shop.tick(ready())
    shop.clock.advance(hours(3).total_seconds())
    shop.tick(dipped(shop))
    assert shop.titles() == []
    assert shop.records.due_deliveries(shop.clock.now() + hours(99)) == []
    assert shop.outbox.troubles() == []


def test_a_recipient_taken_out_of_the_file_is_told_nothing_and_named_on_the_board(shop: Shop) -> None:
    shop.start(TWO, wall=FakeNotifier([False]))
    shop.tick(ready())
    shop.start(rules(places=[PHONE]))
    shop.clock.advance(60)
    shop.tick(ready())
    (trouble,) = shop.outbox.troubles()
    assert trouble.words == (
        "One message to wall did not go out: nobody of that name is told anything any more"
    )
    shop.tick(dipped(shop))
    assert shop.outbox.troubles() == []


def test_a_recipient_who_is_back_in_the_file_is_told_what_is_still_true(shop: Shop) -> None:
    """As after a slip of the pen in a name."""
    shop.start(TWO, wall=FakeNotifier([False]))
    shop.tick(ready())
    shop.start(rules(places=[PHONE]))
    shop.clock.advance(60)
    shop.tick(ready())
    shop.start(TWO)
    shop.tick(ready())
    assert shop.titles("wall") == ["Heron: dip coat 5 of 9, backup, grey tank"]
    assert shop.outbox.troubles() == []


# reminders


def test_reminders_come_by_the_hour_until_somebody_dips_or_there_were_three(shop: Shop) -> None:
    told_at = []
    for minute in range(0, 600, 10):
        before = len(shop.titles())
        shop.tick(ready())
        told_at += [minute] * (len(shop.titles()) - before)
        shop.clock.advance(600)
    assert told_at == [0, 30, 90, 150]
    assert shop.titles()[1:] == [f"Still: {BELL}"] * 3
    assert shop.notifiers["phone"].taken[1].body.splitlines()[1] == "Told 30 min ago"
    assert len(shop.records.open_alerts()) == 2  # the bell and its newest reminder
    shop.tick(dipped(shop))
    assert shop.records.open_alerts() == []


def test_after_a_long_time_off_there_is_one_reminder_not_five(shop: Shop) -> None:
    shop.tick(ready())
    shop.clock.advance(hours(5).total_seconds())
    shop.start(shop.rules)
    for _ in range(3):
        shop.tick(ready())
    assert shop.titles() == [f"Still: {BELL}"]


def test_a_reminder_goes_to_those_who_were_told(shop: Shop) -> None:
    shop.start(TWO, wall=FakeNotifier([False] * 99))
    shop.tick(ready())
    shop.clock.advance(3600)
    shop.tick(ready())
    reminder = next(row for row in shop.records.open_alerts() if row.kind == Echo.REMINDER)
    assert [d.recipient for d in reminder.deliveries] == ["phone"]


# faults and recoveries


def silent_room(shop: Shop, heard: bool) -> None:
    bench = sensor() if heard else silent("bench", minutes(40))
    fresh = Freshness.FRESH if heard else Freshness.STALE
    shop.tick(rooms=(room(sensors=(bench,), freshness=fresh),))


def test_a_fault_is_told_and_so_is_its_end_once(shop: Shop) -> None:
    silent_room(shop, heard=False)
    shop.clock.advance(hours(1).total_seconds())
    for _ in range(3):
        silent_room(shop, heard=True)
    assert shop.titles() == [
        "Shell room: no reading since 13:40",
        "Over: Shell room: no reading since 13:40",
    ]
    assert shop.notifiers["phone"].taken[1].body == f"It lasted 1 h 40 min\n{LINK_BASE}/\nMessage 2"
    assert shop.records.open_alerts() == []


def test_a_fault_that_comes_and_goes_at_once_does_not_flutter(shop: Shop) -> None:
    for _ in range(5):
        silent_room(shop, heard=False)
        shop.clock.advance(60)
        silent_room(shop, heard=True)
        shop.clock.advance(60)
    assert shop.titles() == ["Shell room: no reading since 13:40"]
    shop.clock.advance(600)
    silent_room(shop, heard=True)
    assert len(shop.titles()) == 2


def test_a_fault_nobody_heard_of_ends_without_a_word(shop: Shop) -> None:
    shop.start(shop.rules, phone=FakeNotifier([False] * 2))
    silent_room(shop, heard=False)
    shop.clock.advance(hours(1).total_seconds())
    silent_room(shop, heard=True)
    shop.clock.advance(hours(9).total_seconds())
    shop.outbox.send_due()
    assert shop.titles() == []
    assert shop.records.open_alerts() == []


def test_an_all_clear_goes_only_to_those_who_heard_of_the_fault_and_is_tried_again(shop: Shop) -> None:
    shop.start(TWO, wall=FakeNotifier([False] * 99), phone=FakeNotifier([True, False]))
    silent_room(shop, heard=False)
    shop.clock.advance(hours(1).total_seconds())
    silent_room(shop, heard=True)
    assert len(shop.titles()) == 1
    shop.clock.advance(60)
    silent_room(shop, heard=True)
    assert shop.titles()[1].startswith("Over: ")
    assert shop.titles("wall") == []


def test_a_crash_while_saying_that_it_is_over_says_it_once(shop: Shop) -> None:
    silent_room(shop, heard=False)
    shop.clock.advance(hours(1).total_seconds())
    (row,) = shop.records.open_alerts()
    over = NewAlert(f"{row.key}!over", Echo.ALL_CLEAR, row.subject, None, NOW, f"Over: {row.title}", "", "")
    shop.records.tell(over, ["phone"])  # written, and then the power failed
    silent_room(shop, heard=True)
    silent_room(shop, heard=True)
    assert shop.titles().count(f"Over: {row.title}") == 1
    assert shop.records.open_alerts() == []


def test_the_next_outage_is_told_again(shop: Shop) -> None:
    silent_room(shop, heard=False)
    shop.clock.advance(3600)
    silent_room(shop, heard=True)
    shop.tick(rooms=(room(sensors=(silent("bench", minutes(20)),)),))
    assert [title.startswith("Over") for title in shop.titles()] == [False, True, False]


def test_a_broker_that_is_away_makes_one_message_for_all(shop: Shop) -> None:
    down = Trouble("broker_down", "The broker cannot be reached.", NOW - minutes(40))
    sensors = tuple(silent(f"sensor {i}", minutes(40)) for i in range(20))
    shop.tick(rooms=(room(sensors=sensors),), troubles=(down,))
    assert shop.titles() == ["No sensor can be heard since 13:40"]
    shop.tick(rooms=(room(sensors=sensors),))  # it is back, and they are still not heard
    assert shop.titles()[1:] == ["Shell room: no reading since 13:40"]


# quiet hours


def test_the_night_waits_for_the_morning_and_comes_as_one(shop: Shop) -> None:
    shop.start(rules(places=[PHONE], quiet_hours={"from": "22:00", "until": "06:30"}))
    moulds = [ready(id=i, name=f"mould {i}") for i in range(1, 9)]
    shop.clock.advance(hours(8).total_seconds())  # 22:20
    shop.tick(*moulds)
    assert shop.titles() == []
    assert len(shop.records.open_alerts()) == 8  # the board shows them
    shop.clock.advance((hours(8) + minutes(9)).total_seconds())
    shop.tick(*moulds)
    assert shop.titles() == []
    shop.clock.advance(60)
    shop.tick(*moulds[1:])  # one was dipped at night
    (sent,) = shop.notifiers["phone"].taken
    assert sent.title == f"7 to dip: {', '.join(f'mould {i}' for i in range(2, 9))}"
    assert "mould 1:" not in sent.body


def test_a_longest_wait_rings_at_night(shop: Shop) -> None:
    shop.start(rules(places=[PHONE], quiet_hours={"from": "14:00", "until": "06:30"}))
    shop.tick(ready(1, longest_wait_until=NOW))
    assert shop.titles() == ["Heron: waiting too long for coat 2 of 9, prime, fine tank, since 14:20"]


# storms


def test_five_hundred_moulds_at_once_make_one_message(clock: FakeClock) -> None:
    storm = Shop(MemoryRecords(clock, SITE), clock)
    moulds = [ready(id=i, name=f"mould {i}") for i in range(1, 501)]
    storm.tick(*moulds)
    (title,) = storm.titles()
    assert title.startswith("500 to dip: mould 1, ")
    assert title.endswith(", and 492 more")
    assert len(storm.records.open_alerts()) == 500
    storm.start(storm.rules)
    storm.tick(*moulds)
    assert storm.titles() == []


def test_a_power_cut_in_the_middle_of_a_storm_tells_the_rest_after_it(shop: Shop) -> None:
    moulds = [ready(id=i, name=f"mould {i}") for i in range(1, 9)]
    shop.tick(*moulds[:5])
    shop.start(shop.rules)
    shop.tick(*moulds)
    (sent,) = shop.notifiers["phone"].taken
    told = [line.partition(":")[0] for line in sent.body.splitlines() if "mould " in line]
    assert told == ["1. mould 6", "2. mould 7", "3. mould 8"]
    assert sent.body.count(f"\n{LINK_BASE}/mould/") == 3
    assert sent.body.endswith("\nMessage 6")


# the disk, the stop, the lock


class FillsTheDisk(FakeNotifier):
    """The disk is full by the time the message went out."""

    def __init__(self, records: MemoryRecords) -> None:
        super().__init__()
        self.records = records

    def send(self, notice: Notice) -> Answer:
        self.records.broken = Unavailable("disk_full", "The disk is full.", "Make room.")
        return super().send(notice)


def test_a_full_disk_after_sending_does_not_send_it_every_minute(clock: FakeClock) -> None:
    records = MemoryRecords(clock, SITE)
    shop = Shop(records, clock)
    shop.start(shop.rules, phone=FillsTheDisk(records))
    shop.put(board(ready()))
    for _ in range(5):
        with pytest.raises(Unavailable):
            shop.outbox.send_due()
        clock.advance(60)
    assert shop.titles() == [BELL]
    records.broken = None
    shop.outbox.send_due()
    assert shop.titles() == [BELL]
    assert records.open_alerts()[0].deliveries[0].delivered_at is not None


def test_no_transaction_is_open_while_something_is_sent(clock: FakeClock, tmp_path: Path) -> None:
    file = tmp_path / "coatbell.db"
    with Database(f"sqlite:///{file}") as database:
        shop = Shop(real_records(database, clock), clock)
        writing = WritesMeanwhile(file)
        shop.start(shop.rules, phone=writing)
        shop.tick(ready())
        assert writing.wrote


class WritesMeanwhile(FakeNotifier):
    """Writes to the database from outside while it sends, without any patience for a lock."""

    def __init__(self, file: Path) -> None:
        super().__init__()
        self.file, self.wrote = file, False

    def send(self, notice: Notice) -> Answer:
        with sqlite3.connect(self.file, timeout=0) as other:
            other.execute("BEGIN IMMEDIATE")
            other.execute("INSERT INTO memory (name, value) VALUES ('x', 'y')")
        other.close()
        self.wrote = True
        return super().send(notice)


def test_a_test_message_goes_out_and_is_no_alert(shop: Shop) -> None:
    shop.start(TWO, wall=FakeNotifier([OSError("no network")]))
    assert [tested.answer.taken for tested in shop.outbox.send_test()] == [True, False]
    assert shop.titles() == ["coatbell: a test"]
    assert shop.records.open_alerts() == []


def test_a_test_message_may_go_to_one_alone(shop: Shop) -> None:
    shop.start(TWO)
    assert [tested.way.recipient for tested in shop.outbox.send_test("wall")] == ["wall"]
    assert shop.titles() == []


def test_without_an_address_there_is_no_link(shop: Shop) -> None:
    shop.outbox = Outbox(shop.records, fake_ways(**shop.notifiers), shop.clock, shop.rules)
    shop.tick(ready())
    assert "http" not in shop.notifiers["phone"].taken[0].body


def test_the_clock_jumping_back_tells_nothing_twice(shop: Shop) -> None:
    shop.tick(ready())
    shop.clock.jump(NOW - timedelta(days=400))
    shop.tick(ready())
    shop.clock.jump(NOW)
    shop.tick(ready())
    assert shop.titles() == [BELL]


def test_a_view_may_change_in_every_other_way_without_a_second_bell(shop: Shop) -> None:
    views: Sequence[MouldNow] = [
        ready(),
        ready(stage=Stage.TO_WIRE, wires_due=True),
        ready(since=hours(1)),
        ready(due_at=None),
        mould(due_at=NOW + minutes(39)),
        replace(ready(), name="Heron the second", hook="9"),
        ready(hand_check="still damp"),
        ready(guessing_since=NOW - hours(1)),
    ]
    for view in views:
        shop.tick(view)
    assert shop.titles() == [BELL]
