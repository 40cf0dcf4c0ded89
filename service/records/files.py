"""Files written so that they are whole, or not there at all."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from service.errors import Unavailable
from service.records.database_errors import disk_full, read_only
from service.voice import say


@contextmanager
def files_in_words(path: Path) -> Iterator[None]:
    """Turn an OSError about writing at `path` into a ShopError."""
    try:
        yield
    except OSError as error:
        no_room = error.errno in (errno.ENOSPC, errno.EDQUOT)
        raise (disk_full(str(path)) if no_room else read_only(str(path))) from error


def bytes_of(file: Path) -> bytes:
    """What is in a file. Raises Unavailable (``file_unreadable``) in words."""
    try:
        return file.read_bytes()
    except OSError as error:
        raise Unavailable(
            "file_unreadable",
            say(
                "{file} cannot be read: {strerror}.",
                file=file,
                strerror=(error.strerror or str(error)).lower(),
            ),
            say("Check the name, and run this as the user that runs coatbell."),
        ) from error


def write_whole(text: str, place: Path) -> None:
    """Write a text file so that nobody ever finds half of it."""
    part = place.with_suffix(".part")
    try:
        part.write_text(text, encoding="utf-8")
        put(part, place)
    finally:
        part.unlink(missing_ok=True)


def put(part: Path, place: Path) -> Path:
    """Let a finished file take its place at once, and for good: a power cut after this changes nothing."""
    _to_disk(part)
    _as_its_folders(part, place.parent)
    os.replace(part, place)
    _to_disk(place.parent)
    return place


def make_folder(folder: Path) -> None:
    """Make a folder, and those above it that are missing."""
    if not folder.is_dir():
        make_folder(folder.parent)
        folder.mkdir(exist_ok=True)
        _as_its_folders(folder, folder.parent)


def _as_its_folders(path: Path, folder: Path) -> None:
    """What a superuser writes belongs to whom the folder belongs: coatbell must be able to go on with it."""
    if os.geteuid() == 0:
        owner = folder.stat()
        os.chown(path, owner.st_uid, owner.st_gid)


def _to_disk(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
