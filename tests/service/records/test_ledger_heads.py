"""A head says how the ledger stood, and nobody without the key can make one that says otherwise."""

from __future__ import annotations

import stat
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, PublicFormat

from service.errors import BadInput, Unavailable
from service.records.ledger_heads import (
    Head,
    Signer,
    head_files,
    make_key,
    public_key,
    read_head,
    write_head,
)
from tests.service.records.making import START, minutes, told

DIGEST = "4f" * 32


@pytest.fixture
def signer(tmp_path: Path) -> Signer:
    return Signer(tmp_path)


@pytest.fixture
def file(signer: Signer, tmp_path: Path) -> Path:
    return write_head(signer.head(START, 36, DIGEST), tmp_path / "back-ups")


def test_the_key_is_made_once_and_is_its_owners_only(tmp_path: Path, signer: Signer) -> None:
    assert stat.S_IMODE(signer.file.stat().st_mode) == 0o600
    assert Signer(tmp_path).public == signer.public
    assert Signer(tmp_path / "another").public != signer.public
    assert [path.name for path in tmp_path.glob("ledger*")] == ["ledger.key"]


def test_a_key_half_made_in_a_power_cut_is_made_anew(tmp_path: Path) -> None:
    (tmp_path / "ledger.key.part").write_bytes(b"-----BEGIN")
    assert len(Signer(tmp_path).public) == 64
    assert not (tmp_path / "ledger.key.part").exists()


def x25519() -> bytes:
    key = X25519PrivateKey.generate()
    return key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())


@pytest.mark.parametrize("content", [b"", b"no key", x25519()])
def test_a_key_that_is_none_is_told(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "ledger.key").write_bytes(content)
    with told(Unavailable, "key_unreadable", "ledger.key"):
        Signer(tmp_path)
    assert (tmp_path / "ledger.key").read_bytes() == content


def test_a_head_is_a_text_anybody_can_read(file: Path, signer: Signer) -> None:
    assert file.name == "ledger-20260302T142000Z.txt"
    lines = file.read_text().splitlines()
    assert lines[:5] == [
        "coatbell: head of the ledger",
        "date: 2026-03-02T14:20:00.000000+00:00",
        "entries: 36",
        f"digest: {DIGEST}",
        f"key: {signer.public}",
    ]
    assert lines[5].startswith("signature: ")
    assert len(lines) == 6


def test_it_comes_back_as_it_was_and_needs_no_private_key(file: Path, signer: Signer) -> None:
    signer.file.unlink()
    head = read_head(file)
    assert head == signer.head(START, 36, DIGEST)
    assert head.holds
    assert not head.brought_back


def test_its_signature_is_ed25519_over_the_lines_above_it() -> None:
    """RFC 8032, section 7.1, test 1: the public key that belongs to the private key all can read there."""
    secret = bytes.fromhex("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60")
    public = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"
    key = Ed25519PrivateKey.from_private_bytes(secret)
    assert key.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw).hex() == public
    head = Head(START, 36, DIGEST, public)
    signed = replace(head, signature=key.sign(head.text.rpartition("signature: ")[0].encode()).hex())
    assert signed.holds


@pytest.mark.parametrize("line", range(6))
def test_any_letter_changed_shows(file: Path, line: int) -> None:
    whole = file.read_text().splitlines(keepends=True)
    for place in range(len(whole[line])):
        lines = list(whole)
        lines[line] = (
            f"{lines[line][:place]}{'7' if lines[line][place] != '7' else '8'}{lines[line][place + 1 :]}"
        )
        file.write_text("".join(lines))
        try:
            holds = read_head(file).holds
        except BadInput:
            holds = False
        assert not holds, lines[line]


@pytest.mark.parametrize(
    "text", ["", "shopping list", "coatbell: head of the ledger\n", "date: x\ndate: y\n"]
)
def test_what_is_no_head_is_told(tmp_path: Path, text: str) -> None:
    (tmp_path / "ledger-x.txt").write_text(text)
    with told(BadInput, "head_unreadable", "ledger-x.txt"):
        read_head(tmp_path / "ledger-x.txt")


def test_what_is_not_even_text_is_told(tmp_path: Path) -> None:
    (tmp_path / "ledger-x.txt").write_bytes(b"\xff\xfe\x00")
    with told(BadInput, "head_unreadable"):
        read_head(tmp_path / "ledger-x.txt")


def test_a_line_more_or_written_otherwise_shows(file: Path) -> None:
    text = file.read_text()
    for other in (
        f"{text}more: 1\n",
        text.replace("\n", "\r\n"),
        text.replace("entries: 36", "entries: 036"),
        f"{text}\n",
    ):
        file.write_bytes(other.encode())
        with told(BadInput, "head_unreadable"):
            read_head(file)


def test_another_key_in_its_place_shows(signer: Signer, tmp_path: Path) -> None:
    head = signer.head(START, 36, DIGEST)
    assert not replace(head, key=Signer(tmp_path / "another").public).holds
    assert not replace(head, key="zz").holds


def test_one_that_notes_a_return_says_from_what(signer: Signer, tmp_path: Path) -> None:
    head = signer.head(START, 30, DIGEST, "coatbell-20260301T040000Z.db")
    assert head.holds
    assert not replace(head, brought_back="").holds
    assert read_head(write_head(head, tmp_path)) == head


def test_none_is_overwritten(signer: Signer, tmp_path: Path) -> None:
    heads = [signer.head(START + timedelta(microseconds=n), 36 + n, DIGEST) for n in range(3)]
    files = [write_head(head, tmp_path) for head in heads]
    assert [read_head(file) for file in files] == heads
    assert head_files(tmp_path) == sorted(files)


def test_heads_are_found_in_a_folder_of_back_ups_and_on_a_stick(
    signer: Signer, tmp_path: Path, file: Path
) -> None:
    stick = tmp_path / "stick"
    stick.mkdir()
    (stick / file.name).write_bytes(file.read_bytes())
    (stick / "letter.txt").write_text("mine")
    assert head_files(tmp_path / "back-ups") == [file]
    assert head_files(tmp_path / "back-ups" / "heads") == [file]
    assert head_files(stick) == [stick / file.name]
    assert head_files(file) == [file]
    assert head_files(tmp_path / "stick" / "none.txt") == [tmp_path / "stick" / "none.txt"]
    assert write_head(signer.head(minutes(5), 37, DIGEST), stick).parent == stick / "heads"
    assert len(head_files(stick)) == 2


def test_a_head_or_key_that_cannot_be_read_is_told(signer: Signer, tmp_path: Path) -> None:
    with told(Unavailable, "file_unreadable", "no such file"):
        read_head(tmp_path / "nowhere.txt")
    signer.file.unlink()
    signer.file.mkdir()
    with told(Unavailable, "file_unreadable", "ledger.key", "user that runs coatbell"):
        Signer(tmp_path)


def test_the_public_half_is_known_only_where_there_is_a_key(tmp_path: Path) -> None:
    assert public_key(tmp_path) == ""
    make_key(tmp_path)
    assert public_key(tmp_path) == Signer(tmp_path).public
    (tmp_path / "ledger.key").write_text("spoilt")
    make_key(tmp_path)
    assert public_key(tmp_path) == ""
