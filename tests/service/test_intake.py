"""Readings wait here until they are stored, whatever becomes of the disk meanwhile."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from service import intake
from service.clock import FakeClock
from service.errors import Unavailable
from service.intake import BATCH, ReadingQueue
from service.reading import Quantity, Reading, Reason, Rejected
from service.records.database import Database
from service.records.store import Records
from tests.service.room.cases import T0, h, reading

FULL = Unavailable("disk_full", "The disk is full.", "Make room.")


def numbered(number: int) -> Reading:
    return reading(T0 + timedelta(seconds=number), 280.0 + number / 1000)


def rejected(number: int) -> Rejected:
    return Rejected("shed/wall", str(number), T0, Reason.UNREADABLE, "Not a number.", "wall")


class Disk:
    """Records on a file, that can be made to fail or to dawdle."""

    def __init__(self, records: Records) -> None:
        self.records = records
        self.fails: BaseException | None = None
        self.before_storing: list[object] = []
        self.batches: list[int] = []

    def add_readings(self, readings: list[Reading]) -> None:
        for act in self.before_storing:
            act()  # type: ignore[operator]
        if self.fails:
            raise self.fails
        self.records.add_readings(readings)
        self.batches.append(len(readings))

    def add_rejects(self, rejects: list[Rejected]) -> None:
        if self.fails:
            raise self.fails
        self.records.add_rejects(rejects)

    @property
    def stored(self) -> list[Reading]:
        return self.records.readings(["wall"], Quantity.AIR_TEMPERATURE, T0 - h(1), T0 + h(100))


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Disk]:
    with Database(f"sqlite:///{tmp_path / 'coatbell.db'}") as database:
        yield Disk(Records(database, FakeClock(T0)))


@pytest.fixture
def told() -> list[Reading]:
    return []


@pytest.fixture
def queue(disk: Disk, told: list[Reading]) -> ReadingQueue:
    return ReadingQueue(disk, told.extend)  # type: ignore[arg-type]


def fill(queue: ReadingQueue, numbers: range) -> None:
    for number in numbers:
        queue.accept(numbered(number))


class TestStored:
    def test_nothing_waits_nothing_happens(self, queue: ReadingQueue, disk: Disk) -> None:
        assert queue.write_out() == 0
        assert disk.batches == []

    def test_what_waits_is_stored_and_told_in_order(
        self, queue: ReadingQueue, disk: Disk, told: list[Reading]
    ) -> None:
        fill(queue, range(5))
        assert queue.write_out() == 5
        assert disk.stored == told == [numbered(n) for n in range(5)]
        assert queue.write_out() == 0

    def test_in_batches(self, queue: ReadingQueue, disk: Disk, told: list[Reading]) -> None:
        fill(queue, range(2 * BATCH + 1))
        assert queue.write_out() == 2 * BATCH + 1
        assert disk.batches == [BATCH, BATCH, 1]
        assert len(told) == 2 * BATCH + 1

    def test_rejects_too(self, queue: ReadingQueue, disk: Disk) -> None:
        for number in range(3):
            queue.reject(rejected(number))
        assert queue.write_out() == 0
        assert [r.payload for r in disk.records.rejects(10)] == ["2", "1", "0"]

    def test_accepting_never_waits_for_the_disk(self, queue: ReadingQueue, disk: Disk) -> None:
        fill(queue, range(1))
        gate = threading.Event()
        disk.before_storing = [gate.wait]
        writer = threading.Thread(target=queue.write_out)
        writer.start()
        began = time.monotonic()
        fill(queue, range(1, 100))
        assert time.monotonic() - began < 1.0
        gate.set()
        writer.join()
        assert len(disk.stored) == 100


class TestTrouble:
    def test_what_could_not_be_stored_stays_and_is_stored_later_in_order(
        self, queue: ReadingQueue, disk: Disk, told: list[Reading]
    ) -> None:
        fill(queue, range(BATCH + 3))
        disk.fails = FULL
        assert queue.write_out() == 0
        assert queue.trouble is FULL
        assert told == []
        fill(queue, range(BATCH + 3, BATCH + 6))
        disk.fails = None
        assert queue.write_out() == BATCH + 6
        assert queue.trouble is None
        assert told == [numbered(n) for n in range(BATCH + 6)]

    def test_trouble_half_way_keeps_what_was_stored_and_the_rest(
        self, queue: ReadingQueue, disk: Disk
    ) -> None:
        fill(queue, range(BATCH + 3))
        disk.before_storing = [lambda: setattr(disk, "fails", FULL if disk.batches else None)]
        assert queue.write_out() == BATCH
        assert queue.trouble is FULL
        disk.before_storing, disk.fails = [], None
        assert queue.write_out() == 3
        assert len(disk.stored) == BATCH + 3

    def test_rejects_stay_as_well(self, queue: ReadingQueue, disk: Disk) -> None:
        queue.reject(rejected(1))
        disk.fails = FULL
        queue.write_out()
        disk.fails = None
        queue.write_out()
        assert len(disk.records.rejects(10)) == 1
        assert queue.trouble is None

    def test_an_error_nobody_thought_of_loses_nothing(self, queue: ReadingQueue, disk: Disk) -> None:
        fill(queue, range(3))
        disk.fails = RuntimeError("something else")
        with pytest.raises(RuntimeError, match="something else"):
            queue.write_out()
        disk.fails = None
        assert queue.write_out() == 3

    def test_while_nothing_waits_trouble_is_over(self, queue: ReadingQueue, disk: Disk) -> None:
        fill(queue, range(1))
        disk.fails = FULL
        queue.write_out()
        disk.fails = None
        queue.write_out()
        queue.write_out()
        assert queue.trouble is None


class TestOverflow:
    @pytest.fixture(autouse=True)
    def small(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(intake, "MOST_WAITING", 10)

    def test_exactly_as_many_as_can_wait_all_stay(self, queue: ReadingQueue, disk: Disk) -> None:
        fill(queue, range(10))
        assert queue.write_out() == 10
        assert disk.records.rejects(10) == []

    def test_beyond_that_the_oldest_goes_and_that_is_told(self, queue: ReadingQueue, disk: Disk) -> None:
        fill(queue, range(12))
        assert queue.write_out() == 10
        assert disk.stored == [numbered(n) for n in range(2, 12)]
        lost = disk.records.rejects(10)
        assert {r.reason for r in lost} == {Reason.OVERFLOW}
        assert [r.payload for r in lost] == [repr(numbered(n).value) for n in (1, 0)]
        assert (lost[0].sensor, lost[0].quantity) == ("wall", Quantity.AIR_TEMPERATURE)
        assert "had to be let go" in lost[0].words

    def test_each_is_stored_or_told_as_lost_even_if_more_come_while_it_is_written(
        self, queue: ReadingQueue, disk: Disk
    ) -> None:
        """None vanishes in between, none is both."""
        fill(queue, range(10))
        once = iter([lambda: fill(queue, range(10, 25))])
        disk.before_storing = [lambda: next(once, lambda: None)()]
        queue.write_out()
        stored = {r.value for r in disk.stored}
        lost = {float(r.payload) for r in disk.records.rejects(100)}
        assert stored | lost == {numbered(n).value for n in range(25)}
        assert not stored & lost

    def test_and_if_the_disk_fails_just_then(self, queue: ReadingQueue, disk: Disk) -> None:
        fill(queue, range(10))
        disk.fails = FULL
        disk.before_storing = [lambda: fill(queue, range(10, 15))]
        queue.write_out()
        disk.before_storing, disk.fails = [], None
        queue.write_out()
        stored = {r.value for r in disk.stored}
        lost = {float(r.payload) for r in disk.records.rejects(100)}
        assert stored | lost == {numbered(n).value for n in range(15)}
        assert len(stored) == 10

    def test_a_flood_of_rejects_is_bounded(self, queue: ReadingQueue, disk: Disk) -> None:
        for number in range(50):
            queue.reject(rejected(number))
        queue.write_out()
        assert [r.payload for r in disk.records.rejects(100)] == [str(n) for n in range(49, 39, -1)]


def test_from_many_threads_none_is_lost(queue: ReadingQueue, disk: Disk, told: list[Reading]) -> None:
    threads = [threading.Thread(target=fill, args=(queue, range(i * 300, i * 300 + 300))) for i in range(6)]
    writers = [threading.Thread(target=lambda: [queue.write_out() for _ in range(20)]) for _ in range(2)]
    for thread in threads + writers:
        thread.start()
    for thread in threads + writers:
        thread.join()
    queue.write_out()
    assert len(disk.stored) == len(told) == 1800


def test_the_broker_state_is_kept(queue: ReadingQueue) -> None:
    assert queue.broker_state is None
    queue.broker(False, T0, "connection refused")
    assert queue.broker_state == (False, T0, "connection refused")
