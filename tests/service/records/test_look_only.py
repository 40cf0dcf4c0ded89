"""Records opened to be looked at, on both databases."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from service.clock import FakeClock
from service.errors import NotFound, ShopError, Unavailable
from service.records.database import Database
from service.records.look_only import LookOnly
from service.records.store import Records
from tests.service.records.making import START, hang, told


def test_what_is_recorded_can_be_read_beside_the_one_that_writes(url: str, records: Records) -> None:
    hang(records)
    with LookOnly(url) as looked_at:
        seen = Records(looked_at, FakeClock(START))
        assert seen.ledger_end() == records.ledger_end()
        hang(records, "Dunlin")
        assert seen.mould_ids() == [1, 2]


def test_nothing_can_be_written_by_any_way(url: str, records: Records) -> None:
    with LookOnly(url) as looked_at:
        with told(Unavailable, "look_only"):
            hang(Records(looked_at, FakeClock(START)))
        with pytest.raises(ShopError), looked_at.read() as session:
            session.execute(text("DELETE FROM moulds"))
    assert records.last_fact_number() == 0


def test_one_look_sees_one_state(url: str, records: Records) -> None:
    hang(records)
    with LookOnly(url) as looked_at, looked_at.read() as session:
        before = session.execute(text("SELECT count(*) FROM facts")).scalar()
        hang(records, "Dunlin")
        assert session.execute(text("SELECT count(*) FROM facts")).scalar() == before == 1


def test_where_nothing_is_nothing_is_made(tmp_path: Path) -> None:
    file = tmp_path / "nowhere" / "coatbell.db"
    with told(NotFound, "no_records", str(file)):
        LookOnly(f"sqlite:///{file}")
    assert list(tmp_path.iterdir()) == []


def test_older_tables_are_left_as_they_are(fresh_url: str) -> None:
    with Database(fresh_url) as database, database.write() as session:
        session.execute(text("UPDATE alembic_version SET version_num = 'r001'"))
    with told(Unavailable, "database_older", "older"):
        LookOnly(fresh_url)
    engine = create_engine(fresh_url.replace("postgresql:", "postgresql+psycopg:"))
    with engine.connect() as connection:
        assert connection.execute(text("SELECT version_num FROM alembic_version")).scalar() == "r001"
    engine.dispose()


def test_newer_tables_are_refused(fresh_url: str) -> None:
    with Database(fresh_url) as database, database.write() as session:
        session.execute(text("UPDATE alembic_version SET version_num = 'r999'"))
    with told(Unavailable, "database_newer"):
        LookOnly(fresh_url)


@pytest.mark.parametrize("name", ["a folder", "50%#1"])
def test_no_file_is_left_beside_and_any_name_is_found(tmp_path: Path, name: str) -> None:
    folder = tmp_path / name
    with Database(f"sqlite:///{folder}/coatbell.db") as database:
        hang(Records(database, FakeClock(START)))
    with LookOnly(f"sqlite:///{folder}/coatbell.db") as looked_at:
        assert Records(looked_at, FakeClock(START)).mould_ids() == [1]
    assert [path.name for path in folder.iterdir()] == ["coatbell.db"]
