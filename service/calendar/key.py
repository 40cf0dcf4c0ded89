"""The secret in the calendar's address: made from a key that lies beside the records, and changed with it."""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
import threading
from pathlib import Path
from typing import Protocol

from service.errors import Unavailable
from service.records.files import bytes_of, files_in_words, make_folder
from service.records.secret_file import write_secret
from service.voice import say

KEY_FILE = "calendar.key"
KEY_BYTES = 32
PURPOSE = b"coatbell calendar address"


class Key(Protocol):
    """Where the key is kept."""

    def key(self) -> bytes: ...

    def renew(self) -> None: ...


def secret_of(key: bytes) -> str:
    """256 bits that stand in an address; whoever has them cannot tell the key (HMAC, RFC 2104, with SHA-256)."""
    digest = hmac.new(key, PURPOSE, hashlib.sha256).digest()
    return base64.urlsafe_b64encode(digest).decode().rstrip("=")


class KeyFile:
    """A key in the data folder, made when it is first wanted; only its owner may read it. No part of a back-up.

    Every method raises Unavailable, in words, where the file cannot be read or made.
    """

    def __init__(self, folder: Path) -> None:
        self.file = folder / KEY_FILE
        self._lock = threading.Lock()
        self._key: bytes | None = None

    def key(self) -> bytes:
        with self._lock:
            if self._key is None:
                self._key = self._read() if self.file.exists() else self._make()
            return self._key

    def renew(self) -> None:
        """A new key, on the disk before anybody is told of it."""
        with self._lock:
            self._key = self._make()

    def _read(self) -> bytes:
        try:
            key = bytes.fromhex(bytes_of(self.file).decode("ascii"))
        except ValueError as error:
            raise _spoilt(self.file) from error
        if len(key) != KEY_BYTES:
            raise _spoilt(self.file)
        return key

    def _make(self) -> bytes:
        key = secrets.token_bytes(KEY_BYTES)
        with files_in_words(self.file):
            make_folder(self.file.parent)
            write_secret(f"{key.hex()}\n".encode(), self.file)
        return key


class MemoryKey:
    """A key that is kept nowhere, for tests of the pages."""

    def __init__(self, start: bytes = bytes(KEY_BYTES)) -> None:
        self._key = start

    def key(self) -> bytes:
        return self._key

    def renew(self) -> None:
        self._key = hashlib.sha256(self._key).digest()


def _spoilt(file: Path) -> Unavailable:
    return Unavailable(
        "calendar_key_unreadable",
        say("The key of the calendar's address, {file}, is damaged.", file=file),
        say("Press New address on the page Records, and subscribe anew."),
    )
