"""Instants keep their moment on both databases, and naive ones never get in."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlmodel import col, select

from service.errors import BadInput
from service.records.database import Database
from service.records.store import Records
from service.records.tables import MemoryTable, SensorTable
from service.records.utc import in_utc
from tests.service.records.making import START, told

LONDON = ZoneInfo("Europe/London")
ZONES = st.sampled_from(
    [
        UTC,
        LONDON,
        ZoneInfo("America/St_Johns"),  # half an hour off
        ZoneInfo("Asia/Kathmandu"),  # 45 minutes off
        ZoneInfo("Pacific/Kiritimati"),  # UTC+14
        timezone(timedelta(hours=-11, minutes=-30)),
    ]
)
MOMENTS = st.datetimes(datetime(1970, 1, 2), datetime(2199, 12, 30), timezones=ZONES)


def test_a_time_without_a_zone_is_refused_in_words() -> None:
    with told(BadInput, "time_without_zone", "2026-03-02 14:20", "offset"):
        in_utc(datetime(2026, 3, 2, 14, 20))


@pytest.mark.parametrize("year", [1, 26, 1969, 3000, 9999])
def test_a_year_that_is_a_slip_is_refused_in_words(year: int) -> None:
    with told(BadInput, "year_wrong", str(year), "2026"):
        in_utc(datetime(year, 6, 1, tzinfo=UTC))


@pytest.mark.parametrize("zone", [UTC, timezone(timedelta(hours=14)), timezone(timedelta(hours=-12))])
def test_the_first_and_the_last_year_pass_in_every_zone(zone: tzinfo) -> None:
    for at in (datetime(1970, 1, 1, tzinfo=zone), datetime(2999, 12, 31, 23, 59, tzinfo=zone)):
        assert in_utc(at) == at


def test_an_instant_comes_back_in_utc() -> None:
    found = in_utc(datetime(2026, 7, 1, 14, 20, tzinfo=LONDON))
    assert found == datetime(2026, 7, 1, 13, 20, tzinfo=UTC)
    assert found.tzinfo is UTC


def test_both_passes_of_the_autumn_hour_stay_apart() -> None:
    first = datetime(2026, 10, 25, 1, 30, tzinfo=LONDON, fold=0)
    second = datetime(2026, 10, 25, 1, 30, tzinfo=LONDON, fold=1)
    assert in_utc(second) - in_utc(first) == timedelta(hours=1)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(at=MOMENTS)
def test_every_moment_comes_back_to_the_microsecond(
    database: Database, records: Records, at: datetime
) -> None:
    with database.write() as session:
        session.merge(SensorTable(name="north", first_heard=at, last_good=None))
    found = records.sensors()[0]
    assert found.first_heard == at.astimezone(UTC)
    assert found.first_heard.utcoffset() == timedelta(0)
    assert found.last_good is None


def test_a_naive_instant_is_refused_by_the_column_too(database: Database) -> None:
    with told(BadInput, "time_without_zone"), database.write() as session:
        session.add(SensorTable(name="north", first_heard=datetime(2026, 3, 2)))
    with database.read() as session:
        assert session.get(SensorTable, "north") is None


def test_a_refused_instant_takes_the_whole_transaction_back(database: Database) -> None:
    with told(BadInput, "time_without_zone"), database.write() as session:
        session.add(MemoryTable(name="before", value="1"))
        session.flush()
        session.add(SensorTable(name="north", first_heard=datetime(2026, 3, 2)))
    with database.read() as session:
        assert session.get(MemoryTable, "before") is None


def test_instants_sort_by_moment_not_by_clock_face(database: Database) -> None:
    early = START.astimezone(ZoneInfo("Pacific/Kiritimati"))  # 14 hours later on the wall
    with database.write() as session:
        session.add(SensorTable(name="a", first_heard=START + timedelta(hours=1)))
        session.add(SensorTable(name="b", first_heard=early))
    with database.read() as session:
        names = session.exec(select(SensorTable.name).order_by(col(SensorTable.first_heard))).all()
    assert names == ["b", "a"]
