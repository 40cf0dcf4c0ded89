"""Photos are vouched for by the ledger, and copied once each."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from service.clock import FakeClock
from service.errors import Unavailable
from service.records import photo_files
from service.records.ledger_lines import read_book
from service.records.ledger_search import Row
from service.records.photo_files import (
    TURNS,
    bring_back_photos,
    copy_photos,
    named_photos,
    photo_faults,
    sha256_of,
)
from tests.service.records.ledgers import PICTURE, PICTURE_SHA256, keep_picture, made, outsider
from tests.service.records.making import told


@pytest.fixture
def rows(sqlite_url: str, clock: FakeClock) -> tuple[Row, ...]:
    return read_book(made(sqlite_url, clock)).rows


def test_the_ledger_names_its_photos(rows: tuple[Row, ...]) -> None:
    assert list(named_photos(rows)) == [PICTURE_SHA256]


def test_a_photo_as_it_was_is_no_fault(rows: tuple[Row, ...], tmp_path: Path) -> None:
    file = keep_picture(tmp_path)
    assert sha256_of(file) == PICTURE_SHA256
    assert photo_faults(rows, tmp_path) == []


def test_missing_changed_and_unreadable_ones_are_told_apart(rows: tuple[Row, ...], tmp_path: Path) -> None:
    (fault,) = photo_faults(rows, tmp_path)
    assert (fault.missing, fault.row.told["kind"]) == (True, "photo")
    file = keep_picture(tmp_path)
    file.write_bytes(PICTURE[:-1])
    (fault,) = photo_faults(rows, tmp_path)
    assert (fault.missing, fault.reason, fault.file) == (False, "", file)
    file.unlink()
    file.mkdir()
    (fault,) = photo_faults(rows, tmp_path)
    assert "directory" in fault.reason


@pytest.mark.parametrize("body", ["{}", "no json", '{"sha256": 7}', '{"sha256": "../ledger"}', "[]"])
def test_of_an_entry_that_cannot_be_read_nothing_is_said(
    sqlite_url: str, clock: FakeClock, body: str
) -> None:
    made(sqlite_url, clock)
    with outsider(sqlite_url) as hand:
        hand.do("UPDATE facts SET body = :body WHERE kind = 'photo'", body=body)
        hand.commit()
        assert named_photos(read_book(sqlite_url).rows) == {}


def test_each_is_copied_once(tmp_path: Path) -> None:
    file = keep_picture(tmp_path)
    target = tmp_path / "copies" / "photos"
    assert copy_photos(file.parent, target) == 1
    (there,) = target.iterdir()
    assert (there.name, there.read_bytes()) == (file.name, PICTURE)
    assert there.stat().st_ino != file.stat().st_ino  # a copy of its own: one bad spot must not spoil both
    as_it_was = there.stat().st_mtime_ns
    assert copy_photos(file.parent, target) == 0
    assert there.stat().st_mtime_ns == as_it_was


def test_no_photos_yet(tmp_path: Path) -> None:
    assert copy_photos(tmp_path / "photos", tmp_path / "copies") == 0
    assert not (tmp_path / "copies").exists()


def test_a_changed_one_never_takes_the_place_of_a_good_copy(tmp_path: Path) -> None:
    file, target = keep_picture(tmp_path), tmp_path / "copies"
    copy_photos(file.parent, target)
    file.write_bytes(b"something else, and longer than it was before")
    assert copy_photos(file.parent, target) == 0
    assert [path.read_bytes() for path in target.iterdir()] == [PICTURE]


def test_half_a_copy_is_made_whole(tmp_path: Path) -> None:
    file, target = keep_picture(tmp_path), tmp_path / "copies"
    target.mkdir()
    (target / file.name).write_bytes(PICTURE[:5])
    assert copy_photos(file.parent, target) == 1
    assert (target / file.name).read_bytes() == PICTURE


def test_other_files_are_left_where_they_are(tmp_path: Path) -> None:
    file = keep_picture(tmp_path)
    (file.parent / "notes.txt").write_text("mine")
    (file.parent / "half.part").write_text("half")
    assert copy_photos(file.parent, tmp_path / "copies") == 1
    assert [path.name for path in (tmp_path / "copies").iterdir()] == [file.name]


def test_brought_back_where_missing_or_changed_and_what_was_there_is_kept(tmp_path: Path) -> None:
    good, there = keep_picture(tmp_path / "copies"), keep_picture(tmp_path)
    assert bring_back_photos(good.parent, there.parent, "then") == 0
    there.write_bytes(b"garbled")
    assert bring_back_photos(good.parent, there.parent, "then") == 1
    assert there.read_bytes() == PICTURE
    assert there.with_name(f"{there.name}.kept-then").read_bytes() == b"garbled"
    there.unlink()
    assert bring_back_photos(good.parent, there.parent, "later") == 1
    assert len(list(there.parent.iterdir())) == 2


def test_a_garbled_one_of_the_same_size_is_replaced_too(tmp_path: Path) -> None:
    good, there = keep_picture(tmp_path / "copies"), keep_picture(tmp_path)
    there.write_bytes(PICTURE[::-1])
    assert bring_back_photos(good.parent, there.parent, "then") == 1
    assert there.read_bytes() == PICTURE


def test_a_full_disk_is_told_and_leaves_no_half_copy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(origin: Path, target: Path) -> None:
        target.write_bytes(b"half")
        raise OSError(28, os.strerror(28))

    file = keep_picture(tmp_path)
    monkeypatch.setattr(photo_files.shutil, "copyfile", full)
    with told(Unavailable, "disk_full"):
        copy_photos(file.parent, tmp_path / "copies")
    assert list((tmp_path / "copies").iterdir()) == []


def test_a_bad_spot_in_a_copy_is_mended_when_its_turn_comes(tmp_path: Path) -> None:
    file = keep_picture(tmp_path)
    target = tmp_path / "copies" / "photos"
    copy_photos(file.parent, target)
    there = target / file.name
    there.write_bytes(PICTURE[:-1] + b"!")
    assert copy_photos(file.parent, target) == 0, "the size alone is looked at"
    assert [copy_photos(file.parent, target, night) for night in range(TURNS)].count(1) == 1
    assert there.read_bytes() == PICTURE
    assert [copy_photos(file.parent, target, night) for night in range(TURNS, 2 * TURNS)] == [0] * TURNS


def test_a_bad_original_never_takes_the_place_of_a_good_copy(tmp_path: Path) -> None:
    file = keep_picture(tmp_path)
    target = tmp_path / "copies" / "photos"
    copy_photos(file.parent, target)
    file.write_bytes(PICTURE[:-1] + b"!")
    assert sum(copy_photos(file.parent, target, night) for night in range(TURNS)) == 0
    assert (target / file.name).read_bytes() == PICTURE
