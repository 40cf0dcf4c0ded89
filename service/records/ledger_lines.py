"""The ledger as it stands in the tables, read without trusting it: nothing is written, and nobody has to wait."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, create_engine, inspect, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.pool import NullPool

from service.errors import NotFound
from service.records.database_errors import in_words
from service.records.ledger import START, Line
from service.records.ledger_search import Row
from service.voice import say

INSTANTS = ("at", "recorded_at")
KINDS: Mapping[str, type | tuple[type, ...]] = {
    "number": int,
    "mould_id": (int, type(None)),
    "kind": str,
    "at": datetime,
    "recorded_at": datetime,
    "hand": str,
    "body": str,
    "replaces": (int, type(None)),
    "key": (str, type(None)),
    "digest": str,
}
COLUMNS = ", ".join(KINDS)
STORED = "%Y-%m-%d %H:%M:%S.%f"
"""How SQLite is given an instant; written otherwise, somebody else wrote it."""
CACHES = ("profiles", "worked_out", "taught")


@dataclass(frozen=True)
class Book:
    """Everything a check of the ledger looks at.

    head: number and digest of the end mark. moulds: the numbers in the table of moulds; None where there is none.
    made_from: the newest entry by which something of a mould was worked out, by mould.
    """

    rows: tuple[Row, ...]
    head: tuple[int, str] | None
    moulds: frozenset[int] | None
    made_from: Mapping[int, int]
    time_zone: str | None

    @cached_property
    def by_number(self) -> Mapping[int, Row]:
        return {row.number: row for row in self.rows}

    def digest_at(self, number: int) -> str | None:
        """The digest of an entry by its number; None where there is none."""
        if number == 0:
            return START
        row = self.by_number.get(number)
        return row.digest if row else None


def read_book(url: str) -> Book:
    """The ledger behind a database URL, at one instant, also while coatbell runs on it.

    Raises NotFound (``no_ledger``) where there is none, Unavailable where it cannot be read.
    """
    where = make_url(url)
    with in_words(str(where.database)), looking(where) as connection:
        tables = set(inspect(connection).get_table_names())
        if "facts" not in tables:
            raise no_ledger(str(where.database))
        return Book(
            rows=tuple(_rows(connection)),
            head=_head(connection) if "ledger_head" in tables else None,
            moulds=_moulds(connection) if "moulds" in tables else None,
            made_from=_made_from(connection, tables),
            time_zone=_time_zone(connection) if "site" in tables else None,
        )


def read_end(url: str) -> tuple[int, str]:
    """How many entries the ledger behind a database URL has, and the digest of the last. Raises as `read_book`."""
    where = make_url(url)
    with in_words(str(where.database)), looking(where) as connection:
        if "ledger_head" not in inspect(connection).get_table_names():
            raise no_ledger(str(where.database))
        return _head(connection) or (0, START)


def no_ledger(where: str) -> NotFound:
    return NotFound(
        "no_ledger",
        say("There is no ledger in {where}.", where=where),
        say("Name the folder of the records with --data, or your settings with --configs."),
    )


@contextmanager
def looking(url: URL) -> Iterator[Connection]:
    """A connection that cannot write, and sees one state of the records."""
    if url.get_backend_name() == "sqlite":
        engine = create_engine(
            "sqlite://", creator=lambda: _opened(Path(str(url.database))), poolclass=NullPool
        )
    else:
        postgresql = url.set(drivername="postgresql+psycopg")
        engine = create_engine(
            postgresql, isolation_level="REPEATABLE READ", poolclass=NullPool
        ).execution_options(postgresql_readonly=True)
    try:
        with engine.connect() as connection:
            if connection.dialect.name == "sqlite":
                connection.exec_driver_sql("BEGIN")
            yield connection
    finally:
        engine.dispose()


def _opened(file: Path) -> sqlite3.Connection:
    """For reading. Beside a file on a disk that takes nothing, SQLite cannot put what it needs: then it need not."""
    if not file.is_file():
        raise no_ledger(str(file))
    uri = file.absolute().as_uri()
    connection = _connected(f"{uri}?mode=ro")
    try:
        connection.execute("SELECT 1 FROM sqlite_master").fetchone()
    except sqlite3.OperationalError:
        connection.close()
        waiting = file.with_name(f"{file.name}-wal")
        if waiting.exists() and waiting.stat().st_size:
            raise
        return _connected(f"{uri}?mode=ro&immutable=1")
    return connection


def _connected(uri: str) -> sqlite3.Connection:
    connection = sqlite3.connect(uri, uri=True, isolation_level=None)
    connection.text_factory = lambda raw: raw.decode(
        "utf-8", "replace"
    )  # a changed text may be no text at all
    return connection


def _rows(connection: Connection) -> Iterator[Row]:
    for found in connection.execute(text(f"SELECT {COLUMNS} FROM facts ORDER BY number")):
        yield row_of(dict(found._mapping))


def row_of(told: Mapping[str, Any]) -> Row:
    """An entry out of its columns, whatever stands in them."""
    read: dict[str, Any] = {
        name: _instant(value) if name in INSTANTS else value for name, value in told.items()
    }
    seal = read["digest"] if isinstance(read["digest"], str) else ""
    whole = all(isinstance(read[name], kind) for name, kind in KINDS.items() if name != "digest")
    return Row(
        number=int(read["number"]),
        digest=seal,
        told={name: read[name] if read[name] is not None else told[name] for name in read},
        line=Line(**{**read, "digest": seal}) if whole else None,
    )


def _instant(value: object) -> datetime | None:
    """None where it is no instant as coatbell writes it."""
    if isinstance(value, datetime):
        return value.astimezone(UTC)
    if not isinstance(value, str):
        return None
    try:
        read = datetime.strptime(value, STORED)
        return read.replace(tzinfo=UTC) if read.strftime(STORED) == value else None
    except ValueError:
        return None


def _head(connection: Connection) -> tuple[int, str] | None:
    found = connection.execute(text("SELECT number, digest FROM ledger_head WHERE id = 1")).first()
    return None if found is None else (found[0], found[1])


def _moulds(connection: Connection) -> frozenset[int]:
    return frozenset(connection.execute(text("SELECT id FROM moulds")).scalars())


def _made_from(connection: Connection, tables: set[str]) -> dict[int, int]:
    found: dict[int, int] = {}
    for table in CACHES:
        rows = (
            connection.execute(text(f"SELECT mould_id, fact_number FROM {table}")) if table in tables else ()
        )
        for mould_id, number in rows:
            found[mould_id] = max(number, found.get(mould_id, 0))
    return found


def _time_zone(connection: Connection) -> str | None:
    found: str | None = connection.execute(text("SELECT time_zone FROM site")).scalar()
    return found
