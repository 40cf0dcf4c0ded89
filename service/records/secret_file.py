"""Keys of the shop's own, each in a file that only its owner may read. None of them is part of a back-up."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from service.errors import Unavailable
from service.records.files import bytes_of, files_in_words, make_folder, put
from service.voice import say

LENGTH = 32
"""Bytes of a key for HMAC-SHA256: as many as its digest has (RFC 2104, section 3)."""


def write_secret(data: bytes, place: Path) -> None:
    """Write a file that nobody but its owner may ever read, whole or not at all. Raises OSError."""
    part = place.with_name(f"{place.name}.part")
    part.unlink(missing_ok=True)
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as out:
        out.write(data)
    put(part, place)


def secret_of(place: Path) -> bytes:
    """The key in a file; made, where there is none yet. Raises Unavailable where it is damaged or cannot be made."""
    with files_in_words(place):
        if not place.exists():
            make_folder(place.parent)
            write_secret(f"{secrets.token_hex(LENGTH)}\n".encode(), place)
    return _read(place)


def _read(place: Path) -> bytes:
    try:
        key = bytes.fromhex(bytes_of(place).decode("ascii"))
    except ValueError:
        key = b""
    if len(key) != LENGTH:
        raise Unavailable(
            "key_unreadable",
            say("The key in {place} is damaged.", place=place),
            say(
                "Move it elsewhere and start again: a new one is made, and what the old one signed no longer "
                "holds."
            ),
        )
    return key
