"""Records of the first coatbell are carried over whole: every row of every table, instants to the microsecond."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import Connection, create_engine, inspect, text

from service.clock import FakeClock
from service.reading import Flag, Quantity, Reading
from service.records.database import Database
from service.records.store import Records
from tests.service.records.making import START
from tests.service.records.old_records import INSTANTS, OLD_ROWS, write_old_records

pytestmark = pytest.mark.usefixtures("by_migrations")

CHANGED = {"readings"}
"""Tables whose rows look otherwise now."""


def instant(text_: str) -> datetime:
    return datetime.fromisoformat(text_).replace(tzinfo=UTC)


def old_readings() -> list[Reading]:
    return [
        Reading(
            row["sensor"],
            Quantity(row["quantity"]),
            row["value"],
            instant(row["at"]),
            instant(row["received_at"]),
            Flag(row["flag"]) if row["flag"] else None,
        )
        for row in OLD_ROWS["readings"]
    ]


def ever() -> tuple[datetime, datetime]:
    return datetime(1990, 1, 1, tzinfo=UTC), datetime(2099, 1, 1, tzinfo=UTC)


def found_readings(records: Records) -> list[Reading]:
    names = sorted({row["sensor"] for row in OLD_ROWS["readings"]})
    return [reading for quantity in Quantity for reading in records.readings(names, quantity, *ever())]


def test_the_old_rows_are_in_every_table_there_was(fresh_url: str) -> None:
    """Else a table could be lost on the way, and this test would not know."""
    write_old_records(fresh_url)
    engine = create_engine(fresh_url)
    with engine.connect() as connection:
        tables = set(inspect(connection).get_table_names()) - {"alembic_version"}
        assert tables == {*OLD_ROWS, "ledger_head"}
        for table in tables:
            assert connection.execute(text(f"SELECT count(*) FROM {table}")).scalar()
    engine.dispose()


def test_every_reading_comes_back_as_it_was(fresh_url: str) -> None:
    write_old_records(fresh_url)
    with Database(fresh_url) as database:
        found = found_readings(Records(database, FakeClock(START)))
    assert sorted(found, key=lambda r: (r.sensor, r.quantity, r.at)) == sorted(
        old_readings(), key=lambda r: (r.sensor, r.quantity, r.at)
    )
    assert len(found) == len(OLD_ROWS["readings"])


@pytest.mark.parametrize("table", sorted(OLD_ROWS.keys() - CHANGED))
def test_every_other_row_comes_back_as_it_was(fresh_url: str, table: str) -> None:
    write_old_records(fresh_url)
    with Database(fresh_url) as database, database.read() as session:
        found = session.execute(text(f"SELECT * FROM {table}")).mappings().all()
    assert len(found) == len(OLD_ROWS[table])
    for old in OLD_ROWS[table]:
        assert any(all(alike(name, row[name], value) for name, value in old.items()) for row in found), old


def alike(name: str, found: object, old: object) -> bool:
    if name in INSTANTS and isinstance(found, datetime):  # PostgreSQL
        return isinstance(old, str) and found == instant(old)
    return found == old


def test_the_head_of_the_ledger_is_as_it_was(fresh_url: str) -> None:
    write_old_records(fresh_url)
    with Database(fresh_url) as database:
        records = Records(database, FakeClock(START))
        assert records.last_fact_number() == 2
        assert [fact.body.kind for fact in records.facts(1)] == ["note", "note"]


def test_old_records_go_on(fresh_url: str) -> None:
    """What was heard before is known, and the next reading of a sensor stands beside its old ones."""
    write_old_records(fresh_url)
    newer = Reading("bench", Quantity.AIR_TEMPERATURE, 295.0, START, START)
    with Database(fresh_url) as database:
        records = Records(database, FakeClock(START))
        records.add_readings([*old_readings(), newer])
        assert len(found_readings(records)) == len(OLD_ROWS["readings"]) + 1
        assert records.newest("bench")[0].at == START + timedelta(seconds=30)


def test_empty_old_records_are_taken_too(fresh_url: str) -> None:
    write_old_records(fresh_url, {})
    with Database(fresh_url) as database:
        assert found_readings(Records(database, FakeClock(START))) == []


def whole_size(file: Path) -> int:
    return sum(part.stat().st_size for part in file.parent.glob(f"{file.name}*"))


def many_readings(count: int = 20_000) -> list[dict[str, object]]:
    row = dict(OLD_ROWS["readings"][0])
    times = [f"2026-03-02 {n // 3600:02}:{n // 60 % 60:02}:{n % 60:02}.000000" for n in range(count)]
    return [{**row, "at": at} for at in times]


def test_the_file_shrinks_and_can_give_back_room_from_then_on(sqlite_url: str, tmp_path: Path) -> None:
    write_old_records(sqlite_url, {**OLD_ROWS, "readings": many_readings()})
    before = whole_size(tmp_path / "coatbell.db")
    with Database(sqlite_url) as database:
        records = Records(database, FakeClock(START))
        assert len(records.readings(["bench"], Quantity.AIR_TEMPERATURE, *ever())) == 20_000
        with database.read() as session:
            assert session.execute(text("PRAGMA auto_vacuum")).scalar() == 2
    assert whole_size(tmp_path / "coatbell.db") < before / 2


def test_without_room_to_write_the_file_anew_it_stays_and_works(
    sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_old_records(sqlite_url)

    def full(*_: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(Connection, "rollback", full)
    with Database(sqlite_url) as database:
        monkeypatch.undo()
        assert len(found_readings(Records(database, FakeClock(START)))) == len(OLD_ROWS["readings"])
