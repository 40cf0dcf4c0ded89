"""One coatbell a data folder: two would send every message twice."""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from service.errors import Unavailable
from service.records.files import files_in_words
from service.voice import say


@contextmanager
def only_one(folder: Path) -> Iterator[None]:
    """Hold a data folder while the context lasts; the system lets go of it when the program ends, however it ends.

    Raises Unavailable: ``already_running``, ``disk_full``, ``database_read_only``.
    """
    with files_in_words(folder):
        folder.mkdir(parents=True, exist_ok=True)
        handle = os.open(folder / "coatbell.lock", os.O_RDWR | os.O_CREAT, 0o644)
    try:
        _take(handle, folder)
        yield
    finally:
        os.close(handle)


def _take(handle: int, folder: Path) -> None:
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        raise Unavailable(
            "already_running",
            say("Another coatbell is already running on the records in {folder}.", folder=folder),
            say("Use that one, or stop it before starting another."),
        ) from error
