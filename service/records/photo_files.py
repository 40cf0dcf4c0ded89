"""The photos beside the records: each lies in a file named by its own SHA-256, which the ledger vouches for."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from service.records.files import files_in_words, make_folder, put
from service.records.ledger_search import Row

PHOTOS_FOLDER = "photos"
KIND = "photo"
TURNS = 30
"""Reading every photo every night would wear the evening and the card of a Pi; a thirtieth of them will do."""


@dataclass(frozen=True, slots=True)
class PhotoFault:
    """A photo the ledger names whose file is missing or changed. `reason`: what kept it from being read."""

    row: Row
    file: Path
    missing: bool
    reason: str = ""


def photo_file(folder: Path, sha256: str) -> Path:
    return folder / PHOTOS_FOLDER / f"{sha256}.jpg"


def named_photos(rows: Iterable[Row]) -> dict[str, Row]:
    """The photos an entry names, by their SHA-256. Of entries that cannot be read nothing is said."""
    found = {}
    for row in rows:
        if row.told.get("kind") == KIND and (name := _named(row.told.get("body"))):
            found[name] = row
    return found


def _named(body: object) -> str | None:
    try:
        name = json.loads(str(body))["sha256"]
    except (ValueError, KeyError, TypeError):
        return None
    return name if isinstance(name, str) and name.isalnum() else None


def photo_faults(rows: Iterable[Row], folder: Path) -> list[PhotoFault]:
    """The photos whose files in the data folder `folder` are missing, changed or cannot be read."""
    looked = (_fault(row, name, photo_file(folder, name)) for name, row in named_photos(rows).items())
    return [fault for fault in looked if fault is not None]


def _fault(row: Row, name: str, file: Path) -> PhotoFault | None:
    try:
        return None if sha256_of(file) == name else PhotoFault(row, file, missing=False)
    except FileNotFoundError:
        return PhotoFault(row, file, missing=True)
    except OSError as error:
        return PhotoFault(row, file, missing=False, reason=error.strerror or str(error))


def sha256_of(file: Path) -> str:
    with file.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()


def copy_photos(origin: Path, target: Path, turn: int | None = None) -> int:
    """Copy the photos `origin` has and `target` lacks, both folders of photos; how many were copied.

    A file whose content is not what its name says is left out: it must not stand for the one the ledger means.
    What a target has is left alone, if it has the size of what would be copied; of those whose turn it is the content
    counts too, so that within `TURNS` nights a bad spot on the disk is noticed and copied over.
    """
    copied = 0
    for file in sorted(origin.glob("*.jpg")) if origin.is_dir() else ():
        if not _stands(file, target / file.name, turn):
            copied += _copy(file, target / file.name)
    return copied


def _stands(file: Path, there: Path, turn: int | None) -> bool:
    if not there.exists() or there.stat().st_size != file.stat().st_size:
        return False
    its_turn = turn is not None and zlib.crc32(file.stem.encode()) % TURNS == turn % TURNS
    return not its_turn or sha256_of(there) == file.stem


def _copy(file: Path, there: Path) -> bool:
    with files_in_words(there.parent):
        make_folder(there.parent)
        part = there.with_suffix(".part")
        try:
            shutil.copyfile(file, part)
            if sha256_of(part) != file.stem:
                return False
            put(part, there)
        finally:
            part.unlink(missing_ok=True)
    return True


def bring_back_photos(origin: Path, target: Path, stamp: str) -> int:
    """As `copy_photos`; what lies in the target and is not what its name says is kept beside it and replaced."""
    for file in sorted(origin.glob("*.jpg")) if origin.is_dir() else ():
        there = target / file.name
        if there.exists() and sha256_of(there) != there.stem:
            with files_in_words(there):
                os.replace(there, there.with_name(f"{there.name}.kept-{stamp}"))
    return copy_photos(origin, target)
