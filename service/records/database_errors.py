"""What a database complains about, said in the shop's words."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy.exc import SQLAlchemyError, StatementError

from service.errors import Conflict, NotFound, ShopError, Unavailable
from service.voice import say

PAGE = 65536
FULL = {sqlite3.SQLITE_FULL, "53100"}
DAMAGED = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, "XX001", "XX002"}
NOT_TAKEN = {sqlite3.SQLITE_IOERR_WRITE, sqlite3.SQLITE_IOERR_FSYNC, sqlite3.SQLITE_IOERR_TRUNCATE}
READ_ONLY = {sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM, "25006", "42501"}
BUSY = {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, "55P03", "57014"}
TOO_LARGE = {"22003"}
UNFIT = {sqlite3.SQLITE_CONSTRAINT, "23502", "23503", "23505", "23514"}


@contextmanager
def in_words(where: str) -> Iterator[None]:
    """Turn whatever the database raises into a ShopError; `where` names the database, without a password."""
    try:
        yield
    except (SQLAlchemyError, sqlite3.Error, OverflowError) as error:
        raise translated(error, where) from error


def translated(error: Exception, where: str) -> ShopError:
    """The ShopError for a database error."""
    cause = error.orig if isinstance(error, StatementError) and error.orig is not None else error
    if isinstance(cause, ShopError):
        return cause
    if isinstance(cause, OverflowError):
        return too_large()
    code = _code(cause)
    if code in FULL or (code == sqlite3.SQLITE_IOERR and no_room_at(Path(where))):
        return disk_full(where)
    if getattr(cause, "sqlite_errorcode", None) in NOT_TAKEN:
        return not_taken(where)
    if code in DAMAGED:
        return damaged(where)
    if code in READ_ONLY:
        return read_only(where)
    if code in BUSY:
        return busy(where)
    if code in UNFIT:
        return Conflict(
            "does_not_fit",
            say("That does not fit what is already recorded, so nothing was written."),
            say("Load the page again and look at what is there now."),
        )
    return too_large() if code in TOO_LARGE else away(where, cause)


def too_large() -> NotFound:
    """SQLite's driver refuses whole numbers of more than 64 bits before it asks, PostgreSQL its columns' size."""
    return NotFound(
        "number_too_large",
        say("Nothing here has so large a number."),
        say("Load the page again, and choose from what it shows."),
    )


def no_room_at(file: Path) -> bool:
    """Whether a file could not grow by so much as a page: SQLite then tells some failures as a fault of the disk."""
    try:
        return shutil.disk_usage(file.parent).free < PAGE
    except OSError:
        return False


def disk_full(where: str) -> Unavailable:
    return Unavailable(
        "disk_full",
        say("The disk is full, so this could not be written to {where}.", where=where),
        say("Make room on the disk and do it again. Everything recorded before is still there."),
    )


def not_taken(where: str) -> Unavailable:
    return Unavailable(
        "disk_refused",
        say("The disk did not take what was to be written to {where}.", where=where),
        say(
            "It may be failing, or a file there has come to the largest size it may have. Copy the back-ups "
            "elsewhere, then look at the disk. Everything recorded before is still there."
        ),
    )


def damaged(where: str) -> Unavailable:
    return Unavailable(
        "database_damaged",
        say("The records in {where} are damaged, so nothing more is written to them.", where=where),
        say(
            "Stop coatbell, bring back the newest back-up with “coatbell restore --newest” (with the "
            "--configs or --data you start it with), and start again; the damaged file is moved aside: keep "
            "it."
        ),
    )


def read_only(where: str) -> Unavailable:
    return Unavailable(
        "database_read_only",
        say("Coatbell may not write to {where}.", where=where),
        say(
            "Let the user that runs coatbell write to that file and its folder, or choose another data "
            "folder."
        ),
    )


def busy(where: str) -> Unavailable:
    return Unavailable(
        "database_busy",
        say("Another program is holding the records in {where}.", where=where),
        say("Close it, then do it again."),
    )


def newer(where: str) -> Unavailable:
    return Unavailable(
        "database_newer",
        say("The records in {where} were written by a newer coatbell than this one.", where=where),
        say("Start the newer coatbell, or bring back a back-up made before it was put in."),
    )


def away(where: str, cause: BaseException) -> Unavailable:
    return Unavailable(
        "database_away",
        say(
            "The records in {where} cannot be reached: {first_line}.",
            where=where,
            first_line=_first_line(cause),
        ),
        say("Check that the database is running and that the disk is connected, then do it again."),
    )


def _code(cause: BaseException) -> int | str | None:
    """SQLite's primary result code, or PostgreSQL's SQLSTATE."""
    if isinstance(cause, sqlite3.Error):
        extended = getattr(cause, "sqlite_errorcode", None)
        return None if extended is None else int(extended) & 0xFF
    return getattr(cause, "sqlstate", None)


def _first_line(cause: BaseException) -> str:
    return (str(cause).strip().splitlines() or [type(cause).__name__])[0].rstrip(".")
