"""Files are whole or not there, and trouble with them is told."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from service.errors import Unavailable
from service.records.files import files_in_words, put, write_whole
from tests.service.records.making import told


@pytest.mark.parametrize(
    ("number", "code"),
    [
        (errno.ENOSPC, "disk_full"),
        (errno.EDQUOT, "disk_full"),
        (errno.EACCES, "database_read_only"),
        (errno.EROFS, "database_read_only"),
        (errno.ENOTDIR, "database_read_only"),
    ],
)
def test_trouble_is_told_with_the_place(number: int, code: str) -> None:
    with told(Unavailable, code, "shelf"), files_in_words(Path("shelf")):
        raise OSError(number, os.strerror(number))


def test_no_trouble_is_no_trouble() -> None:
    with files_in_words(Path("shelf")):
        pass


def test_other_errors_pass() -> None:
    with pytest.raises(KeyError), files_in_words(Path("shelf")):
        raise KeyError("x")


def test_a_finished_file_takes_its_place(tmp_path: Path) -> None:
    part, place = tmp_path / "a.part", tmp_path / "a.toml"
    place.write_text("old")
    part.write_text("new")
    assert put(part, place) == place
    assert place.read_text() == "new"
    assert not part.exists()


def test_it_is_on_the_disk_before_it_takes_its_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    steps: list[str] = []
    fsync, move = os.fsync, os.replace

    def flush(handle: int) -> None:
        steps.append("flush")
        fsync(handle)

    def replace(part: Path, place: Path) -> None:
        steps.append("move")
        move(part, place)

    monkeypatch.setattr(os, "fsync", flush)
    monkeypatch.setattr(os, "replace", replace)
    (tmp_path / "a.part").write_text("new")
    put(tmp_path / "a.part", tmp_path / "a.toml")
    assert steps == ["flush", "move", "flush"]


def test_a_text_is_written_whole(tmp_path: Path) -> None:
    write_whole("Großes Tor\n", tmp_path / "gate.toml")
    assert (tmp_path / "gate.toml").read_bytes() == "Großes Tor\n".encode()
    assert os.listdir(tmp_path) == ["gate.toml"]


def test_a_text_that_does_not_fit_leaves_the_old_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_whole("old", tmp_path / "gate.toml")

    def no_room(handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", no_room)
    with pytest.raises(OSError, match="No space"):
        write_whole("new", tmp_path / "gate.toml")
    assert (tmp_path / "gate.toml").read_text() == "old"
    assert os.listdir(tmp_path) == ["gate.toml"]
