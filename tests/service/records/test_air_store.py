"""Readings gathered by five minutes; thinned out to hours that are right, whenever readings come and whatever ends."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.errors import Unavailable
from service.reading import Quantity, Reading
from service.records import air_store
from service.records.air_facts import Hours
from service.records.air_store import AT_A_TIME
from service.records.database import Database
from service.records.store import Records
from tests.service.records.making import reading, told

DAY = datetime(2026, 3, 2, tzinfo=UTC)
NORTH, SOUTH = "shell-room-north", "shell-room-south"
TEMPERATURE, HUMIDITY = Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY
HAIR = timedelta(microseconds=1)
NEW = count()


def hour(number: float) -> datetime:
    return DAY + timedelta(hours=number)


def fill(records: Records, hours: float, every_s: float = 600.0, sensor: str = NORTH) -> list[Reading]:
    steps = int(hours * 3600 / every_s)
    sent = [reading(DAY + timedelta(seconds=i * every_s), 290.0 + i % 7, sensor) for i in range(steps)]
    records.add_readings(sent)
    return sent


def left(records: Records, sensor: str = NORTH, quantity: Quantity = TEMPERATURE) -> list[Reading]:
    return records.readings([sensor], quantity, hour(-1000), hour(10_000))


def hours_of(records: Records, sensor: str = NORTH, quantity: Quantity = TEMPERATURE) -> Hours:
    return records.hours(sensor, quantity, hour(-1000), hour(10_000))


def thin_out(records: Records, before: datetime) -> int:
    gone = 0
    while some := records.thin_out_some(before):
        gone += some
    return gone


class TestFiveMinutes:
    def test_they_are_counted_and_added_up(self, records: Records) -> None:
        sent = [(0, 1.0), (299, 2.0), (300, 4.0), (899.999999, 8.0), (900, 16.0)]
        records.add_readings([reading(DAY + timedelta(seconds=s), value) for s, value in sent])
        found = records.five_minutes(NORTH, TEMPERATURE, DAY, hour(1))
        first = int(DAY.timestamp() // 300)
        assert (found.number - first).tolist() == [0, 1, 2, 3]
        assert found.count.tolist() == [2, 1, 1, 1]
        assert found.total.tolist() == [3.0, 4.0, 8.0, 16.0]

    def test_the_begin_counts_and_the_end_does_not(self, records: Records) -> None:
        records.add_readings([reading(hour(n)) for n in (1, 2)])
        assert records.five_minutes(NORTH, TEMPERATURE, hour(1), hour(2)).count.sum() == 1
        assert records.five_minutes(NORTH, TEMPERATURE, hour(1), hour(2) + HAIR).count.sum() == 2
        assert records.five_minutes(NORTH, TEMPERATURE, hour(1) + HAIR, hour(2)).count.sum() == 0

    def test_what_was_never_heard_is_empty(self, records: Records) -> None:
        fill(records, 1)
        for sensor, quantity in ((SOUTH, TEMPERATURE), (NORTH, HUMIDITY)):
            assert records.five_minutes(sensor, quantity, DAY, hour(1)).number.size == 0
            assert records.hours(sensor, quantity, DAY, hour(1)).hour.size == 0

    def test_they_say_what_the_readings_say(self, records: Records) -> None:
        sent = fill(records, 30, every_s=47.0)
        found = records.five_minutes(NORTH, TEMPERATURE, DAY, hour(30))
        assert found.count.sum() == len(sent)
        assert found.total.sum() == pytest.approx(sum(r.value for r in sent))
        assert (np.diff(found.number) > 0).all()


class TestThinningOut:
    def test_an_hour_says_what_its_readings_said(self, records: Records) -> None:
        values = [291.0, 295.5, 290.25]
        records.add_readings([reading(hour(n / 10), value) for n, value in enumerate(values)])
        assert thin_out(records, hour(1)) == 3
        found = hours_of(records)
        assert found.hour.tolist() == [int(DAY.timestamp()) // 3600]
        assert found.mean.tolist() == [pytest.approx(sum(values) / 3)]
        assert (found.least[0], found.most[0], found.count[0]) == (290.25, 295.5, 3)
        assert found.heard.tolist() == [0b000000000111 & 0b1 | 0b10 | 0b100]
        assert left(records) == []

    def test_only_whole_hours_that_are_over(self, records: Records) -> None:
        fill(records, 3)
        assert thin_out(records, hour(2) - HAIR) == 6
        assert left(records)[0].at == hour(1)
        assert thin_out(records, hour(2)) == 6
        assert left(records)[0].at == hour(2)
        assert hours_of(records).count.tolist() == [6, 6]

    def test_each_sensor_and_quantity_for_itself(self, records: Records) -> None:
        records.add_readings([reading(value=1.0), reading(value=0.5, quantity=HUMIDITY)])
        records.add_readings([reading(value=3.0, sensor=SOUTH)])
        thin_out(records, hour(100))
        assert hours_of(records).mean.tolist() == [1.0]
        assert hours_of(records, NORTH, HUMIDITY).mean.tolist() == [0.5]
        assert hours_of(records, SOUTH).mean.tolist() == [3.0]

    def test_a_transaction_takes_a_day_of_one_quantity_at_most(self, records: Records) -> None:
        fill(records, 60)
        assert records.thin_out_some(hour(100)) == AT_A_TIME * 6
        assert records.oldest_reading() == hour(AT_A_TIME)

    def test_the_oldest_go_first(self, records: Records) -> None:
        fill(records, 30)
        fill(records, 2, sensor=SOUTH)
        records.thin_out_some(hour(100))
        assert not left(records, SOUTH) or len(left(records)) == 180 - AT_A_TIME * 6
        thin_out(records, hour(1))
        assert {r.at >= hour(1) for s in (NORTH, SOUTH) for r in left(records, s)} == {True}

    def test_nothing_so_old_is_nothing(self, records: Records) -> None:
        assert records.oldest_reading() is None
        assert records.thin_out_some(hour(100)) == 0
        fill(records, 2)
        assert records.thin_out_some(hour(0.99)) == 0
        assert records.thin_out_some(DAY) == 0
        assert len(left(records)) == 12

    def test_thinned_out_twice_is_thinned_out_once(self, records: Records) -> None:
        fill(records, 5)
        thin_out(records, hour(5))
        before = hours_of(records)
        assert thin_out(records, hour(5)) == 0
        assert hours_of(records).mean.tolist() == before.mean.tolist()
        assert hours_of(records).count.tolist() == [6] * 5

    def test_one_that_comes_late_is_laid_into_its_hour(self, records: Records) -> None:
        records.add_readings([reading(hour(0.05), 290.0), reading(hour(0.1), 292.0)])
        thin_out(records, hour(1))
        late = replace(reading(hour(0.9), 297.0), received_at=hour(5))
        records.add_readings([late])
        assert left(records) == [late]
        assert hours_of(records).count.tolist() == [2]
        thin_out(records, hour(1))
        found = hours_of(records)
        assert found.mean.tolist() == [pytest.approx(293.0)]
        assert (found.least[0], found.most[0], found.count[0]) == (290.0, 297.0, 3)
        assert found.heard.tolist() == [1 << 0 | 1 << 1 | 1 << 10]
        assert left(records) == []

    def test_a_late_one_in_the_middle_changes_neither_end(self, records: Records) -> None:
        records.add_readings([reading(hour(0.05), 290.0), reading(hour(0.1), 299.0)])
        thin_out(records, hour(1))
        records.add_readings([reading(hour(0.2), 294.0)])
        thin_out(records, hour(1))
        assert (hours_of(records).least[0], hours_of(records).most[0]) == (290.0, 299.0)

    @settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    @given(
        sent=st.lists(
            st.tuples(st.integers(0, 7 * 3600), st.floats(-1e6, 1e6)), min_size=1, unique_by=lambda s: s[0]
        ),
        cuts=st.lists(st.integers(0, 8), max_size=4),
    )
    def test_in_whatever_order_they_come(
        self, records: Records, sent: list[tuple[int, float]], cuts: list[int]
    ) -> None:
        """Thinned out in any steps between any batches, an hour is what all its readings say."""
        name = f"sensor {next(NEW)}"
        batches = [sent[i :: len(cuts) + 1] for i in range(len(cuts) + 1)]
        for batch, cut in zip(batches, [*cuts, 8], strict=True):
            records.add_readings([reading(DAY + timedelta(seconds=s), v, name) for s, v in batch])
            thin_out(records, hour(cut))
        found = hours_of(records, name)
        for index, number in enumerate((found.hour - int(DAY.timestamp()) // 3600).tolist()):
            own = [value for s, value in sent if s // 3600 == number]
            assert found.mean[index] == pytest.approx(np.mean(own), abs=1e-6)
            assert (found.least[index], found.most[index], found.count[index]) == (
                min(own),
                max(own),
                len(own),
            )
            bits = {s // 300 % 12 for s, _ in sent if s // 3600 == number}
            assert found.heard[index] == sum(1 << bit for bit in bits)
        assert found.count.sum() == len(sent)


class Killed(BaseException):
    """The process ends here."""


def killed_at(step: str, after: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """From now on the process ends before or after this step."""
    do: Callable[..., Any] = getattr(air_store, step)

    def end(*arguments: object) -> None:
        if after:
            do(*arguments)
        raise Killed

    monkeypatch.setattr(air_store, step, end)


@pytest.mark.parametrize(
    ("step", "after"),
    [("_thin_out", False), ("_add_to_hours", False), ("_add_to_hours", True), ("_thin_out", True)],
)
def test_killed_between_nothing_is_doubled_and_nothing_lost(
    records: Records, monkeypatch: pytest.MonkeyPatch, step: str, after: bool
) -> None:
    sent = fill(records, 3)
    with monkeypatch.context() as patched:
        killed_at(step, after, patched)
        with pytest.raises(Killed):
            records.thin_out_some(hour(3))
    assert left(records) == sent
    assert hours_of(records).hour.size == 0
    thin_out(records, hour(3))
    assert hours_of(records).count.tolist() == [6, 6, 6]


def test_what_another_program_wrote_meanwhile_is_not_lost(
    records: Records, clock: Any, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent = fill(records, 1)
    add = air_store._add_to_hours

    def write_meanwhile(session: Any, rows: list[dict[str, Any]]) -> None:
        add(session, rows)
        number = rows[0]["series_id"]
        row = {"series_id": number, "at_us": int((DAY + HAIR).timestamp() * 1e6), "value": 1.0, "late_us": 0}
        session.execute(air_store.READINGS.insert(), row)

    with monkeypatch.context() as patched:
        patched.setattr(air_store, "_add_to_hours", write_meanwhile)
        with told(Unavailable, "readings_changed"):
            records.thin_out_some(hour(1))
    assert left(records) == sent
    assert hours_of(records).hour.size == 0


class TestHoursAsFiveMinutes:
    def test_the_mean_stands_where_something_was_heard(self) -> None:
        one = Hours(*(np.array([n]) for n in (100, 294.0, 290.0, 297.0, 6, 0b100000000101)))
        found = one.five_minutes()
        assert found.number.tolist() == [1200, 1202, 1211]
        assert found.count.tolist() == [2.0, 2.0, 2.0]
        assert (found.total / found.count).tolist() == [294.0] * 3

    def test_none_are_none(self, records: Records) -> None:
        assert hours_of(records).five_minutes().number.size == 0
