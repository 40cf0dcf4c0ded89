"""A key of the shop's own, for its owner only."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from service.errors import Unavailable
from service.records.secret_file import LENGTH, secret_of, write_secret


def test_it_is_made_once_and_kept(tmp_path: Path) -> None:
    place = tmp_path / "data" / "links.key"
    key = secret_of(place)
    assert len(key) == LENGTH
    assert secret_of(place) == key
    assert secret_of(tmp_path / "other.key") != key


def test_only_its_owner_may_read_it(tmp_path: Path) -> None:
    place = tmp_path / "links.key"
    (tmp_path / "links.key.part").write_text("left behind by a power cut")
    (tmp_path / "links.key.part").chmod(0o644)
    secret_of(place)
    assert stat.S_IMODE(place.stat().st_mode) == 0o600
    assert [file.name for file in tmp_path.iterdir()] == ["links.key"]


@pytest.mark.parametrize("text", ["", "00", "zz" * 32, "00" * 31, "00" * 33, "é" * 32])
def test_a_damaged_one_is_told_and_left(tmp_path: Path, text: str) -> None:
    place = tmp_path / "links.key"
    place.write_text(text)
    with pytest.raises(Unavailable) as told:
        secret_of(place)
    assert told.value.code == "key_unreadable"
    assert "Move it elsewhere" in told.value.todo
    assert place.read_text() == text


def test_where_it_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(Unavailable):
        secret_of(tmp_path / "file" / "links.key")


def test_what_was_there_is_replaced_whole(tmp_path: Path) -> None:
    place = tmp_path / "a.key"
    write_secret(b"old", place)
    write_secret(b"new", place)
    assert place.read_bytes() == b"new"
