"""The records opened to be looked at only, beside a running coatbell: nothing is locked or changed."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlmodel import Session

from service.errors import NotFound, Unavailable
from service.records.database import BUSY_TIMEOUT_S, Database
from service.records.migrate import is_up_to_date
from service.voice import say

SQLITE = "sqlite:///"


class LookOnly(Database):
    """Raises NotFound where there are no records yet; Unavailable where an older coatbell wrote them."""

    def __init__(self, url: str) -> None:
        file = Path(make_url(url).database or "") if url.startswith(SQLITE) else None
        if file is not None and not file.is_file():
            raise NotFound(
                "no_records",
                say("There are no records at {file}.", file=file),
                say("Name the folder they lie in with --data, or with --configs if your site.toml says it."),
            )
        super().__init__(url)

    @contextmanager
    def write(self, durable: bool = True) -> Iterator[Session]:
        """Refused, whatever is asked."""
        with self.read():
            raise Unavailable(
                "look_only",
                say("The records are only being looked at."),
                say("Record it in coatbell itself, on its pages."),
            )
        yield

    def _open(self) -> None:
        """Neither looked through for damage nor brought up to date: the service does that when it starts."""
        self.engine.dispose()
        self.engine = _reading(self.engine)
        with self.engine.connect() as connection:
            up_to_date = is_up_to_date(connection, self.where)
        if not up_to_date:
            raise Unavailable(
                "database_older",
                say("The records in {where} are of an older coatbell.", where=self.where),
                say("Start coatbell once, which brings them up to date, and try again."),
            )


def _reading(engine: Engine) -> Engine:
    """The same database, where every connection refuses to write."""
    if engine.dialect.name == "postgresql":
        found = create_engine(engine.url, isolation_level="REPEATABLE READ", pool_pre_ping=True)
        event.listen(found, "begin", _begin_reading)
        return found
    file = f"file:{quote(engine.url.database or '')}"
    # Opened for writing where that is allowed, so that SQLite clears away its own files beside it when done.
    mode = "rw" if os.access(engine.url.database or "", os.W_OK) else "ro"
    url = engine.url.set(database=file).update_query_dict({"mode": mode, "uri": "true"})
    found = create_engine(url, connect_args={"timeout": BUSY_TIMEOUT_S})
    event.listen(found, "connect", _only_reading)
    event.listen(found, "begin", _begin_at_once)
    return found


def _begin_reading(connection: Connection) -> None:
    connection.exec_driver_sql("SET TRANSACTION READ ONLY")


def _only_reading(connection: sqlite3.Connection, _record: object) -> None:
    connection.isolation_level = None  # sqlite3 would otherwise begin by itself, and only before a write
    connection.execute("PRAGMA query_only=ON")


def _begin_at_once(connection: Connection) -> None:
    connection.exec_driver_sql("BEGIN")
