"""What every store has: the database, the clock, and short ways to read and write rows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session

from service.clock import Clock
from service.records.database import Database
from service.records.tables import Table


class BaseStore:
    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock


def insert_new(session: Session, table: type[Table], rows: Sequence[dict[str, Any]]) -> None:
    """Insert many rows at once, leaving alone those whose key is there already."""
    session.execute(inserting(session, table).on_conflict_do_nothing(), rows)


def inserting(session: Session, table: type[Table]) -> sqlite.Insert | postgresql.Insert:
    """An insert that can say what is done where the key is there already."""
    postgres = session.get_bind().dialect.name == "postgresql"
    return postgresql.insert(table) if postgres else sqlite.insert(table)
