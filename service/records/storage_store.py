"""How much room the records take up in their database, and giving back what is free in it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import text
from sqlmodel import Session

from service.records.base_store import BaseStore

PAGES_AT_A_TIME = 1000
"""Given back by one transaction: a few megabytes, so that nobody waits."""
KEPT_FREE = 0.1
"""A share of the file that may be free: what is thinned out is soon used again."""
ON_POSTGRESQL = (
    "SELECT coalesce(sum(pg_total_relation_size(c.oid)), 0) FROM pg_class c "
    "JOIN pg_namespace n ON n.oid = c.relnamespace WHERE n.nspname = current_schema() AND c.relkind = 'r'"
)


@dataclass(frozen=True, slots=True)
class DatabaseSize:
    """used_bytes: rows, indexes and log. free_bytes: what was thinned out and will be used again."""

    used_bytes: int
    free_bytes: int


class StorageStore(BaseStore):
    def database_size(self) -> DatabaseSize:
        """PostgreSQL does not tell what is free inside its tables: it counts as used."""
        file = self._database.file
        with self._database.read() as session:
            if file is None:
                return DatabaseSize(int(session.execute(text(ON_POSTGRESQL)).scalar_one()), 0)
            page, pages, free = (
                _pragma(session, name) for name in ("page_size", "page_count", "freelist_count")
            )
        return DatabaseSize((pages - free) * page + _log_bytes(file), free * page)

    def give_back_some(self) -> bool:
        """Let the file shrink a little where more than `KEPT_FREE` of it is free; whether it did.

        A file of an older coatbell that could not be written anew keeps its size; PostgreSQL sees to it itself.
        """
        if self._database.file is None:
            return False
        with self._database.write(durable=False) as session:
            pages, free = _pragma(session, "page_count"), _pragma(session, "freelist_count")
            if free <= KEPT_FREE * pages:
                return False
            _shrink(session, min(PAGES_AT_A_TIME, free))
            return _pragma(session, "page_count") < pages


def _pragma(session: Session, name: str) -> int:
    return int(session.execute(text(f"PRAGMA {name}")).scalar_one())


def _shrink(session: Session, pages: int) -> None:
    """Page by page, straight through the driver: SQLite frees one a row, and Python reads no rows without columns."""
    driver: Any = session.connection().connection.driver_connection
    for _ in range(pages):
        driver.execute("PRAGMA incremental_vacuum(1)")


def _log_bytes(file: Path) -> int:
    log = file.with_name(f"{file.name}-wal")
    return log.stat().st_size if log.exists() else 0
