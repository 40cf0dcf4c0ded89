"""Signed heads: small text files that vouch for how the ledger stood, so that a history rewritten as a whole shows.

Signed with Ed25519 (RFC 8032). A head is checked with the public key it carries alone; who wants to be sure that it
is this shop's compares that key with the one written down when coatbell was set up.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)

from service.errors import BadInput, Unavailable
from service.records.files import bytes_of, files_in_words, make_folder, write_whole
from service.records.secret_file import write_secret
from service.records.utc import in_utc
from service.voice import say

TITLE = "coatbell: head of the ledger"
KEY_FILE = "ledger.key"
HEADS_FOLDER = "heads"
PATTERN = "ledger-*.txt"
SHORT = 12
"""So many letters of a digest or key are shown, to be compared by eye."""
FIELDS = ("date", "entries", "digest", "key", "brought back", "signature")


@dataclass(frozen=True, slots=True)
class Head:
    """How the ledger stood: so many entries, the digest of the last.

    key: the public key, hexadecimal. brought_back: the copy that was brought back just before; then what older heads
    say of more entries than these is no longer asked for.
    """

    at: datetime
    entries: int
    digest: str
    key: str
    brought_back: str = ""
    signature: str = ""

    @property
    def said(self) -> str:
        """What is signed, as it stands in the file."""
        lines = {
            "date": in_utc(self.at).isoformat(timespec="microseconds"),
            "entries": str(self.entries),
            "digest": self.digest,
            "key": self.key,
        }
        if self.brought_back:
            lines["brought back"] = self.brought_back
        return "".join(f"{line}\n" for line in [TITLE, *(f"{k}: {v}" for k, v in lines.items())])

    @property
    def text(self) -> str:
        return f"{self.said}signature: {self.signature}\n"

    @property
    def holds(self) -> bool:
        """Whether the signature is that of the key it names."""
        try:
            key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(self.key))
            key.verify(bytes.fromhex(self.signature), self.said.encode())
        except (ValueError, InvalidSignature):
            return False
        return True


def read_head(file: Path) -> Head:
    """The head in a file. Raises BadInput (``head_unreadable``) where it is none; its signature is not looked at."""
    raw = bytes_of(file)
    try:
        head = _parsed(raw.decode())
    except (ValueError, KeyError) as error:
        raise _unreadable(file) from error
    if head.text.encode() != raw:
        raise _unreadable(file)
    return head


def _parsed(text: str) -> Head:
    title, *lines = text.splitlines()
    told: Mapping[str, str] = {name: value for name, _, value in (line.partition(": ") for line in lines)}
    if title != TITLE or not set(told) <= set(FIELDS):
        raise ValueError(title)
    return Head(
        at=in_utc(datetime.fromisoformat(told["date"])),
        entries=int(told["entries"]),
        digest=told["digest"],
        key=told["key"],
        brought_back=told.get("brought back", ""),
        signature=told["signature"],
    )


def _unreadable(file: Path) -> BadInput:
    return BadInput(
        "head_unreadable",
        say("{file} is no head of a ledger, or was changed.", file=file),
        say("Compare it with the one you keep elsewhere."),
    )


def head_files(place: Path) -> list[Path]:
    """The heads in a folder, or in its folder of heads; or the one file that is named."""
    if not place.is_dir():
        return [place]
    return sorted({*place.glob(PATTERN), *(place / HEADS_FOLDER).glob(PATTERN)})


class Signer:
    """Signs heads with the shop's own key, made at the first start; only its owner may read it.

    Raises Unavailable where the key cannot be read or made.
    """

    def __init__(self, folder: Path) -> None:
        self.file = folder / KEY_FILE
        with files_in_words(self.file):
            make_folder(folder)
            self._key = self._read() if self.file.exists() else self._make()

    @property
    def public(self) -> str:
        """The public half, hexadecimal."""
        return self._key.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw).hex()

    def head(self, at: datetime, entries: int, digest: str, brought_back: str = "") -> Head:
        head = Head(in_utc(at), entries, digest, self.public, brought_back)
        return Head(
            head.at, entries, digest, head.key, brought_back, self._key.sign(head.said.encode()).hex()
        )

    def _read(self) -> Ed25519PrivateKey:
        try:
            key = load_pem_private_key(bytes_of(self.file), password=None)
        except (ValueError, UnsupportedAlgorithm) as error:
            raise _bad_key(self.file) from error
        if not isinstance(key, Ed25519PrivateKey):
            raise _bad_key(self.file)
        return key

    def _make(self) -> Ed25519PrivateKey:
        key = Ed25519PrivateKey.generate()
        write_secret(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()), self.file)
        return key


def make_key(folder: Path) -> None:
    """Make the key at the first start, so that its public half can be written down then.

    A key that cannot be used is told when it is to sign: no bell must stay silent for it.
    """
    if not (folder / KEY_FILE).exists():
        Signer(folder)


def public_key(folder: Path) -> str:
    """The public half of the key, hexadecimal; empty where there is none, or none that can be used."""
    try:
        return Signer(folder).public if (folder / KEY_FILE).exists() else ""
    except Unavailable:
        return ""


def _bad_key(file: Path) -> Unavailable:
    return Unavailable(
        "key_unreadable",
        say("The key that signs the ledger's heads, {file}, is damaged.", file=file),
        say("Move it elsewhere and start again: a new one is made, and older heads keep their own."),
    )


def write_head(head: Head, folder: Path) -> Path:
    """Put a head among those of a back-up folder. None is ever overwritten or removed."""
    heads = folder / HEADS_FOLDER
    with files_in_words(heads):
        make_folder(heads)
        stamp, tries = f"{head.at.astimezone(UTC):%Y%m%dT%H%M%SZ}", 0
        while (place := heads / f"ledger-{stamp}{'x' * tries}.txt").exists():
            tries += 1
        write_whole(head.text, place)
    return place
