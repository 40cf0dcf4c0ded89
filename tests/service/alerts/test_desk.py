"""The desk: look at a board, and what is to be told lies in the outbox."""

from __future__ import annotations

from datetime import datetime

import pytest

from service.alerts.desk import AlertDesk
from service.alerts.fakes import MemoryRecords
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
    return AlertDesk(records, Outbox(records, {"phone": phone}, clock, RULES), RULES, clock)


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
