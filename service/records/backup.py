"""Nightly copies of the records, and the way back from one. SQLite only."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from pathlib import Path

from service.errors import BadInput, NotFound, Unavailable
from service.records.base_store import BaseStore
from service.records.database_errors import damaged, in_words
from service.records.files import files_in_words, make_folder, put, write_whole
from service.records.utc import in_utc
from service.voice import say

PATTERN = "coatbell-????????T??????Z.db"
COMPANIONS = ("", "-wal", "-shm")  # a SQLite file and what it keeps beside it


class BackUpStore(BaseStore):
    def back_up(self, folder: Path, keep: int = 14) -> Path:
        """Copy the records into `folder` while they are in use; the newest `keep` copies stay. Returns the copy.

        The copy is read through before it counts, and only then are old ones removed: a damaged file never pushes
        out a good copy. Raises Unavailable: ``disk_full``, ``database_damaged``, ``database_read_only``, and
        ``back_up_elsewhere`` on PostgreSQL.
        """
        source = self._database.file
        if source is None:
            raise Unavailable(
                "back_up_elsewhere",
                say("Coatbell does not back up PostgreSQL by itself."),
                say("Run pg_dump every night on the machine that holds the database."),
            )
        with self._database.errors_told(), files_in_words(folder):
            make_folder(folder)
            copy = _copy(source, folder, self._clock.now(), folder / "unfinished.part")
            _thin_out(folder, copy, keep)
        return copy


def back_ups(folder: Path) -> list[Path]:
    """The copies in `folder`, oldest first."""
    return sorted(folder.glob(PATTERN))


def copy_records(source: Path, folder: Path, now: datetime) -> Path:
    """Copy the records `source` into `folder` while a service may be using them; none is thinned out for it.

    Raises what `BackUpStore.back_up` does.
    """
    with in_words(str(source)), files_in_words(folder):
        make_folder(folder)
        return _copy(source, folder, now, folder / "by-hand.part")


def restore(file: Path, copy: Path, now: datetime, then: Callable[[], object] = bool) -> Path | None:
    """Put `copy` in the place of the records `file`; coatbell must be stopped. Returns where the old file is kept.

    then: done once the copy has taken its place, and before coatbell may start on it.

    The old file is moved aside and never overwritten. Raises NotFound when `copy` is not there, BadInput when it
    cannot be read through: then nothing is moved.

    At whatever instant it is broken off, the old records or the new ones stand there whole, or `unfinished` names
    where the old ones are kept: do it again then.
    """
    must_be_sound(copy)
    with files_in_words(file):
        make_folder(file.parent)
        fresh = file.with_name(f"{file.name}.coming-back")
        fresh.unlink(missing_ok=True)
        with in_words(str(fresh)):
            _copy_pages(copy, fresh)
        aside = unfinished(file) or _mark(file, now)
        _keep_aside(file, aside)
        for end in COMPANIONS[1:]:
            file.with_name(file.name + end).unlink(missing_ok=True)
        put(fresh, file)
        then()
        _marker(file).unlink()
    return aside if aside.exists() else None


def must_be_sound(copy: Path) -> None:
    """Raises NotFound when `copy` is not there, BadInput when it cannot be read through."""
    if not copy.is_file():
        raise NotFound(
            "back_up_unknown", say("There is no back-up {copy}.", copy=copy), say("Choose one that is there.")
        )
    if not _sound(copy):
        raise BadInput(
            "back_up_damaged",
            say("The back-up {copy} is damaged itself.", copy=copy),
            say("Choose an older one."),
        )


def unfinished(file: Path) -> Path | None:
    """Where the old records are kept, if bringing back others was broken off half-way."""
    with files_in_words(file):
        mark = _marker(file)
        return file.with_name(mark.read_text(encoding="utf-8")) if mark.exists() else None


def _copy(source: Path, folder: Path, now: datetime, part: Path) -> Path:
    part.unlink(missing_ok=True)
    try:
        with in_words(str(folder)):
            _copy_pages(source, part)
        if not _sound(part):
            raise _bad_copy(folder) if _sound(source) else damaged(str(source))
        return put(part, folder / f"coatbell-{stamp(now)}.db")
    finally:
        part.unlink(missing_ok=True)


def _copy_pages(source: Path, part: Path) -> None:
    with closing(_reading(source)) as origin, closing(sqlite3.connect(part)) as target:
        origin.backup(target)
        target.execute("PRAGMA journal_mode=DELETE")  # one file, with nothing beside it


def _sound(file: Path) -> bool:
    """Whether every page can be read and coatbell's facts are in it. Raises when the file cannot be opened at all."""
    with in_words(str(file)), closing(_reading(file)) as connection:
        try:
            ours = connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'facts'").fetchone()
            return bool(ours == (1,) and connection.execute("PRAGMA quick_check(1)").fetchone() == ("ok",))
        except sqlite3.OperationalError:
            raise
        except sqlite3.DatabaseError:
            return False


def _reading(file: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)


def _bad_copy(folder: Path) -> Unavailable:
    return Unavailable(
        "back_up_failed",
        say(
            "A copy was written to {folder} but cannot be read back. The records themselves are sound.",
            folder=folder,
        ),
        say("Check the disk that holds the back-ups, or use another."),
    )


def _thin_out(folder: Path, newest: Path, keep: int) -> None:
    others = [copy for copy in back_ups(folder) if copy != newest]
    for old in others[: max(len(others) - max(keep, 1) + 1, 0)]:
        old.unlink()


def _marker(file: Path) -> Path:
    return file.with_name(f"{file.name}.restoring")


def _mark(file: Path, now: datetime) -> Path:
    """Hold the old records by a second name, then say that they are about to be exchanged."""
    for end in COMPANIONS:
        old, held = file.with_name(file.name + end), _held(file, end)
        held.unlink(missing_ok=True)
        if old.exists():
            _hold(old, held)
    aside = file.with_name(f"{file.name}.kept-{stamp(now)}")
    while aside.exists():
        aside = aside.with_name(f"{aside.name}x")
    write_whole(aside.name, _marker(file))
    return aside


def _held(file: Path, end: str) -> Path:
    return file.with_name(f"{file.name}.keeping{end}")


def _hold(old: Path, held: Path) -> None:
    try:
        os.link(old, held)
    except OSError:  # such as a stick's file system, which knows no second names
        shutil.copy2(old, held)


def _keep_aside(file: Path, aside: Path) -> None:
    for end in reversed(COMPANIONS):
        if _held(file, end).exists():
            _held(file, end).rename(aside.with_name(aside.name + end))


def stamp(now: datetime) -> str:
    """An instant as it stands in file names."""
    return f"{in_utc(now):%Y%m%dT%H%M%SZ}"
