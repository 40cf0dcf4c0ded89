"""The tables are as they were last agreed on: `schema/sqlite.txt` and `schema/postgresql.txt`.

A change of a table must be meant. Where it is (with a migration of its own), renew the texts and look at what changed:

    COATBELL_RENEW_SCHEMA=1 python -m pytest -n 0 tests/service/records/test_schema.py
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from sqlalchemy import text

from service.records.database import Database
from tests.service.records.schema_text import schema_text

pytestmark = pytest.mark.usefixtures("by_migrations")

FOLDER = Path(__file__).parent / "schema"
RENEW = "COATBELL_RENEW_SCHEMA"


def test_the_tables_are_as_agreed(fresh_url: str) -> None:
    with Database(fresh_url) as database, database.read() as session:
        kept = FOLDER / f"{database.engine.dialect.name}.txt"
        found = schema_text(session.connection())
    if os.environ.get(RENEW) == "1":
        kept.parent.mkdir(exist_ok=True)
        kept.write_text(found, encoding="utf-8")
    assert found == kept.read_text(encoding="utf-8")


def test_a_change_would_be_seen(fresh_url: str) -> None:
    with Database(fresh_url) as database:
        with database.read() as session:
            before = schema_text(session.connection()).splitlines()
        with database.write() as session:
            session.execute(text("ALTER TABLE rooms ADD COLUMN colour VARCHAR"))
            session.execute(text("CREATE INDEX ix_rooms_colour ON rooms (colour, name)"))
        with database.read() as session:
            after = schema_text(session.connection()).splitlines()
    new = [line.split() for line in after if line not in before]
    assert new == [["colour", "VARCHAR"], ["index", "ix_rooms_colour:", "colour,", "name"]]


def test_every_table_is_in_the_texts() -> None:
    for name in ("sqlite.txt", "postgresql.txt"):
        heads = [
            line.split()[0] for line in (FOLDER / name).read_text().splitlines() if line[:1] not in ("", " ")
        ]
        assert {"facts", "readings", "hours", "series", "moulds", "memory", "worked_out"} <= set(heads)
        assert heads == sorted(heads)
