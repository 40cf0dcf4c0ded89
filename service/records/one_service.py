"""One coatbell a database: two on the same records would each send every message, whatever folders they run in."""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from sqlalchemy import Connection, Engine, create_engine, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import NullPool

from service.errors import Unavailable
from service.records.database_errors import in_words
from service.records.files import files_in_words, make_folder
from service.voice import say

OURS = 0x62656C6C  # any number of our own; the second half of the lock is the schema, so that two shops can share
PATIENCE_S = 10
LET_GO = """
SET tcp_keepalives_idle = 20; SET tcp_keepalives_interval = 5; SET tcp_keepalives_count = 4;
SET statement_timeout = '10s'; SET application_name = 'coatbell, the only one'
"""
"""A machine that lost its power says no good-bye: the server is to notice within a minute and let go of its lock."""


class Alone:
    """Being the only service on a database. `lost`: why that cannot be said for sure just now."""

    lost: Unavailable | None = None

    def hold(self) -> bool:
        """Look whether we still are; False: another took over, and this one must end."""
        return True

    def close(self) -> None:
        """Let others begin."""


@contextmanager
def only_service(url: str) -> Iterator[Alone]:
    """Hold a database while the context lasts; it is let go of when the program ends, however it ends.

    Raises Unavailable: ``already_running``, and what keeps the database from being reached.
    """
    where = make_url(url)
    alone = (
        _AloneOnFile(Path(str(where.database)))
        if where.get_backend_name() == "sqlite"
        else _AloneOnServer(where)
    )
    try:
        yield alone
    finally:
        alone.close()


class _AloneOnFile(Alone):
    """By a lock on a file beside it: to lock the records themselves would meet SQLite's own locks."""

    def __init__(self, file: Path) -> None:
        with files_in_words(file):
            true = file.resolve()  # by whatever name it is called
            make_folder(true.parent)
            self._handle = os.open(true.with_name(f"{true.name}.lock"), os.O_RDWR | os.O_CREAT, 0o644)
        try:
            fcntl.flock(self._handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            os.close(self._handle)
            raise _taken(str(file), "") from error

    def close(self) -> None:
        os.close(self._handle)


class _AloneOnServer(Alone):
    """By an advisory lock of a session that does nothing else."""

    def __init__(self, url: URL) -> None:
        self._where = url.render_as_string(hide_password=True)
        self._engine = _engine(url)
        self._session: Connection | None = None
        try:
            with in_words(self._where):
                taken = self._take()
            if not taken:
                raise _taken(
                    self._where,
                    say("If its machine lost its power just now, wait a minute: the server lets go then."),
                )
        except BaseException:
            self.close()
            raise

    def hold(self) -> bool:
        try:
            if self._session is not None:
                self._session.execute(text("SELECT 1"))
                return True
            taken = self._take()
        except DBAPIError:
            self._let_go()
            self.lost = _cut_off(self._where)
            return True
        self.lost = None
        return taken

    def _take(self) -> bool:
        session = self._engine.connect()
        try:
            session.exec_driver_sql(LET_GO)
            asked = text("SELECT pg_try_advisory_lock(:ours, hashtext(current_schema()))")
            taken = bool(session.execute(asked, {"ours": OURS}).scalar_one())
        except BaseException:
            session.close()
            raise
        if taken:
            self._session = session
        else:
            session.close()
        return taken

    def _let_go(self) -> None:
        if self._session is not None:
            with suppress(DBAPIError):
                self._session.invalidate()
            self._session.close()
            self._session = None

    def close(self) -> None:
        if self._session is not None:
            with suppress(DBAPIError):
                self._session.close()
            self._session = None
        self._engine.dispose()


def _engine(url: URL) -> Engine:
    return create_engine(
        url.set(drivername="postgresql+psycopg"),
        isolation_level="AUTOCOMMIT",
        poolclass=NullPool,
        connect_args={"connect_timeout": PATIENCE_S, "tcp_user_timeout": PATIENCE_S * 1000},
    )


def _taken(where: str, more: str) -> Unavailable:
    return Unavailable(
        "already_running",
        say("Another coatbell is already running on the records in {where}.", where=where),
        " ".join(part for part in (say("Use that one, or stop it before starting another."), more) if part),
    )


def _cut_off(where: str) -> Unavailable:
    return Unavailable(
        "cut_off",
        say(
            "The connection to {where} was lost, so it is not sure that no other coatbell runs on it.",
            where=where,
        ),
        say("Check that the database is running; coatbell goes on by itself as soon as it is."),
    )
