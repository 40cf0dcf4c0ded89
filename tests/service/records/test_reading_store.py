"""Readings are stored in batches and come back by time; rejects are kept, but not for ever."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from service.clock import FakeClock
from service.errors import BadInput
from service.reading import Flag, Quantity
from service.records import reading_store
from service.records.database import Database
from service.records.store import Records
from tests.service.records.making import START, minutes, reading, reject, told

NORTH, SOUTH = "shell-room-north", "shell-room-south"
TEMPERATURE, HUMIDITY = Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY


def test_a_reading_comes_back_as_it_was(records: Records) -> None:
    said = replace(reading(minutes(1), 294.123456789), flag=Flag.CLAMPED)
    records.add_readings([said])
    assert records.readings([NORTH], TEMPERATURE, minutes(0), minutes(2)) == [said]


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(value=st.floats(allow_nan=False, allow_infinity=False), flag=st.sampled_from([None, *Flag]))
def test_every_finite_value_comes_back_exactly(records: Records, value: float, flag: Flag | None) -> None:
    newest = records.newest(NORTH)
    at = newest[0].at + timedelta(microseconds=1) if newest else START
    records.add_readings([replace(reading(at, value), flag=flag)])
    assert [(r.value, r.flag) for r in records.newest(NORTH)] == [(value, flag)]


def test_readings_come_by_time_whatever_order_they_came_in(records: Records) -> None:
    records.add_readings([reading(minutes(n), sensor=s) for n in (3, 1, 2) for s in (SOUTH, NORTH)])
    found = records.readings([NORTH, SOUTH], TEMPERATURE, minutes(0), minutes(9))
    assert [(r.at, r.sensor) for r in found] == [(minutes(n), s) for n in (1, 2, 3) for s in (NORTH, SOUTH)]


def test_both_ends_of_the_window_count(records: Records) -> None:
    records.add_readings([reading(minutes(n)) for n in range(5)])
    found = records.readings([NORTH], TEMPERATURE, minutes(1), minutes(3))
    assert [r.at for r in found] == [minutes(1), minutes(2), minutes(3)]
    hair = timedelta(microseconds=1)
    found = records.readings([NORTH], TEMPERATURE, minutes(1) + hair, minutes(3) - hair)
    assert [r.at for r in found] == [minutes(2)]


def test_the_window_may_be_given_in_any_zone(records: Records) -> None:
    records.add_readings([reading(minutes(1))])
    tokyo = ZoneInfo("Asia/Tokyo")
    found = records.readings([NORTH], TEMPERATURE, START.astimezone(tokyo), minutes(2).astimezone(tokyo))
    assert len(found) == 1


def test_other_quantities_and_sensors_are_left_out(records: Records) -> None:
    records.add_readings([reading(), reading(quantity=HUMIDITY, value=0.5), reading(sensor=SOUTH)])
    assert records.readings([NORTH], HUMIDITY, START, START) == [reading(quantity=HUMIDITY, value=0.5)]
    assert records.readings([], HUMIDITY, START, START) == []
    assert records.readings(["west"], HUMIDITY, START, START) == []


def test_a_second_reading_for_the_same_instant_is_left_out(records: Records) -> None:
    records.add_readings([reading(value=294.0), reading(value=295.0)])
    records.add_readings([reading(value=296.0), reading(minutes(1), 297.0)])
    found = records.readings([NORTH], TEMPERATURE, START, minutes(1))
    assert [r.value for r in found] == [294.0, 297.0]


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_a_batch_with_no_number_in_it_is_refused_whole(records: Records, value: float) -> None:
    with told(BadInput, "reading_not_finite", NORTH):
        records.add_readings([reading(), reading(minutes(1), value)])
    assert records.newest(NORTH) == []


def test_an_empty_batch_is_nothing(records: Records) -> None:
    records.add_readings([])
    records.add_rejects([])
    assert records.sensors() == []


def test_the_newest_of_each_quantity(records: Records) -> None:
    records.add_readings([reading(minutes(n), quantity=q) for n in range(3) for q in (HUMIDITY, TEMPERATURE)])
    records.add_readings([reading(minutes(9), sensor=SOUTH)])
    found = records.newest(NORTH)
    assert {r.quantity: r.at for r in found} == {TEMPERATURE: minutes(2), HUMIDITY: minutes(2)}
    assert records.newest("west") == []


def test_readings_make_their_sensor_known(records: Records) -> None:
    records.add_readings([reading(minutes(1)), reading(minutes(3)), reading(minutes(2))])
    sensor = records.sensors()[0]
    assert (sensor.name, sensor.room_id) == (NORTH, None)
    assert sensor.last_good == minutes(3) + timedelta(seconds=1)


def test_last_good_never_goes_back(records: Records) -> None:
    records.hear_sensor(NORTH, minutes(0))
    records.add_readings([reading(minutes(5))])
    records.add_readings([reading(minutes(2))])
    sensor = records.sensors()[0]
    assert sensor.first_heard == minutes(0)
    assert sensor.last_good == minutes(5) + timedelta(seconds=1)


def test_last_good_is_when_it_reached_us(records: Records) -> None:
    """Liveness is told by our own clock, not by the sensor's."""
    late = replace(reading(minutes(1)), received_at=minutes(30))
    records.add_readings([late])
    assert records.sensors()[0].last_good == minutes(30)


def test_a_window_is_found_by_the_key_and_not_by_reading_all(sqlite_database: Database) -> None:
    plan = "EXPLAIN QUERY PLAN SELECT * FROM readings WHERE series_id IN (1, 2) AND at_us BETWEEN 1 AND 2"
    with sqlite_database.read() as session:
        steps = " ".join(row[3] for row in session.execute(text(plan)))
    assert "SEARCH readings USING PRIMARY KEY (series_id=? AND at_us>? AND at_us<?)" in steps
    assert "SCAN" not in steps


def test_a_sensor_and_its_quantity_are_kept_once(records: Records, database: Database) -> None:
    records.add_readings([reading(minutes(n), quantity=q) for n in range(3) for q in (HUMIDITY, TEMPERATURE)])
    records.add_readings([reading(minutes(9)), reading(minutes(9), sensor=SOUTH)])
    with database.read() as session:
        kept = session.execute(text("SELECT sensor, quantity FROM series ORDER BY sensor, quantity")).all()
    assert [tuple(row) for row in kept] == [
        (NORTH, "air_temperature"),
        (NORTH, "relative_humidity"),
        (SOUTH, "air_temperature"),
    ]


def test_a_batch_that_fails_leaves_no_number_behind(
    records: Records, clock: FakeClock, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The number of a sensor that was rolled back must not be remembered: it may be given to another."""
    with monkeypatch.context() as patched:
        patched.setattr(reading_store, "_row", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            records.add_readings([reading()])
    Records(database, clock).add_readings([reading(sensor=SOUTH)])
    records.add_readings([reading(value=294.0)])
    assert [r.value for r in records.newest(NORTH)] == [294.0]
    assert [r.sensor for r in records.newest(SOUTH)] == [SOUTH]


@pytest.mark.parametrize("late_s", [0, 1, -2.5, 40 * 86400, 1e-6])
def test_when_it_reached_us_comes_back_to_the_microsecond(records: Records, late_s: float) -> None:
    said = replace(reading(minutes(1)), received_at=minutes(1) + timedelta(seconds=late_s))
    records.add_readings([said])
    assert records.newest(NORTH) == [said]


# Rejects


def test_a_reject_comes_back_as_it_was(records: Records) -> None:
    said = replace(reject(), quantity=HUMIDITY)
    records.add_rejects([said])
    assert records.rejects(5) == [said]


def test_the_newest_rejects_come_first(records: Records) -> None:
    records.add_rejects([reject(str(n)) for n in range(5)])
    assert [r.payload for r in records.rejects(3)] == ["4", "3", "2"]


def test_rejects_of_one_sensor(records: Records) -> None:
    records.add_rejects([reject("1"), reject("2", sensor=SOUTH), reject("3", sensor=None)])
    assert [r.payload for r in records.rejects(9, sensor=SOUTH)] == ["2"]
    assert [r.payload for r in records.rejects(9)] == ["3", "2", "1"]


def test_only_the_newest_rejects_stay(records: Records, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reading_store, "REJECTS_KEPT", 10)
    for start in range(0, 24, 8):
        records.add_rejects([reject(str(n)) for n in range(start, start + 8)])
    assert [r.payload for r in records.rejects(99)] == [str(n) for n in range(23, 13, -1)]
    records.add_rejects([reject(str(n)) for n in range(100, 125)])
    assert [r.payload for r in records.rejects(99)] == [str(n) for n in range(124, 114, -1)]


@pytest.mark.parametrize(
    ("payload", "kept"),
    [
        ("a\x00b", "a\ufffdb"),
        ("half a letter \ud800", "half a letter ?"),
        ("x" * 600, "x" * 500),
        ("{“ünicode”: 🐦}", "{“ünicode”: 🐦}"),
    ],
)
def test_any_payload_can_be_kept(records: Records, payload: str, kept: str) -> None:
    records.add_rejects([reject(payload)])
    assert [r.payload for r in records.rejects(1)] == [kept]
