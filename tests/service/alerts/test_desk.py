"""The desk: look at a board, and what is to be told lies in the outbox."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from service.alerts.clock_wrong import clock_behind
from service.alerts.desk import AlertDesk
from service.alerts.fakes import MemoryRecords, fake_ways
from service.alerts.kinds import Kind
from service.alerts.notifiers.fake import FakeNotifier
from service.alerts.outbox import Outbox
from service.clock import FakeClock
from tests.service.alerts.scene import NOW, SITE, board, hours, minutes, ready, room, rules, silent

RULES = rules(places=[{"name": "phone", "send_to": "json://127.0.0.1:1"}])


@pytest.fixture
def records() -> MemoryRecords:
    return MemoryRecords(FakeClock(NOW), SITE)


@pytest.fixture
def phone() -> FakeNotifier:
    return FakeNotifier()


@pytest.fixture
def desk(records: MemoryRecords, phone: FakeNotifier) -> AlertDesk:
    clock = FakeClock(NOW)
    return AlertDesk(records, Outbox(records, fake_ways(phone=phone), clock, RULES), RULES, clock)


def test_looking_writes_down_and_sends_nothing_yet(
    desk: AlertDesk, records: MemoryRecords, phone: FakeNotifier
) -> None:
    desk.look(board(ready()), NOW)
    assert [row.kind for row in records.open_alerts()] == ["next dip due"]
    assert phone.tried == []
    desk.outbox.send_due()
    assert len(phone.taken) == 1


def test_looking_twice_writes_once(desk: AlertDesk, records: MemoryRecords) -> None:
    for _ in range(2):
        desk.look(board(ready()), NOW)
    assert len(records.recent_alerts(9)) == 1


@pytest.mark.parametrize(
    ("listening_since", "told"),
    [(NOW - hours(1), 1), (NOW - minutes(15), 1), (NOW - minutes(1), 0), (None, 0)],
)
def test_sensors_are_judged_by_how_long_they_could_be_heard(
    desk: AlertDesk, records: MemoryRecords, listening_since: datetime | None, told: int
) -> None:
    desk.look(board(rooms=(room(sensors=(silent("bench", hours(9)),)),)), listening_since)
    assert len(records.open_alerts()) == told


class TestAClockThatIsWrong:
    """One clock for all, so that it can be set."""

    def desk(self, clock: FakeClock, records: MemoryRecords) -> AlertDesk:
        return AlertDesk(
            records, Outbox(records, fake_ways(phone=FakeNotifier()), clock, RULES), RULES, clock
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
