"""Photos beside the records: whole or not there, each once, and swept away only if nobody recorded them."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from service.records import photo_folder
from service.records.photo_folder import DAY_S, PhotoFolder
from service.records.pictures import Picture, picture_of
from tests.service.records.pictures import file_of, opened, scene
from tests.service.room.cases import refused

NOW_S = 1_800_000_000.0


@pytest.fixture
def folder(tmp_path: Path) -> PhotoFolder:
    return PhotoFolder(tmp_path / "photos")


@pytest.fixture
def picture() -> Picture:
    return picture_of(file_of(scene((800, 600))))


def names(folder: PhotoFolder) -> list[str]:
    return sorted(file.name for file in folder.folder.iterdir())


def aged(file: Path, seconds: float) -> None:
    os.utime(file, (NOW_S - seconds, NOW_S - seconds))


class TestPut:
    def test_under_the_name_of_what_it_holds(self, folder: PhotoFolder, picture: Picture) -> None:
        folder.put(picture)
        assert names(folder) == [f"{picture.sha256}.jpg"]
        assert folder.read(picture.sha256) == picture.jpeg

    def test_twice_is_one_file_left_alone(self, folder: PhotoFolder, picture: Picture) -> None:
        folder.put(picture)
        file = folder.folder / f"{picture.sha256}.jpg"
        aged(file, 50)
        folder.put(picture)
        assert names(folder) == [file.name]
        assert file.stat().st_mtime == NOW_S - 50

    def test_one_that_was_damaged_meanwhile_is_put_right(self, folder: PhotoFolder, picture: Picture) -> None:
        folder.put(picture)
        (folder.folder / f"{picture.sha256}.jpg").write_bytes(b"rot")
        folder.put(picture)
        assert folder.read(picture.sha256) == picture.jpeg

    def test_it_is_on_the_disk_before_it_takes_its_name(
        self, folder: PhotoFolder, picture: Picture, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def cut(part: Path, place: Path) -> Path:
            raise OSError(errno.ENOSPC, "no room")

        monkeypatch.setattr(photo_folder, "put", cut)
        with refused("disk_full"):
            folder.put(picture)
        assert names(folder) == []
        with refused("photo_lost"):
            folder.read(picture.sha256)

    def test_where_nothing_can_be_written_it_says_so(self, tmp_path: Path, picture: Picture) -> None:
        (tmp_path / "photos").write_text("a file where the folder should be")
        with refused("database_read_only"):
            PhotoFolder(tmp_path / "photos").put(picture)


class TestRead:
    def test_one_that_is_gone(self, folder: PhotoFolder, picture: Picture) -> None:
        for ask in (folder.read, folder.small):
            with refused("photo_lost"):
                ask(picture.sha256)

    def test_one_that_was_changed_from_outside(self, folder: PhotoFolder, picture: Picture) -> None:
        folder.put(picture)
        other = picture_of(file_of(scene((20, 20))))
        (folder.folder / f"{picture.sha256}.jpg").write_bytes(other.jpeg)
        for ask in (folder.read, folder.small):
            with refused("photo_changed"):
                ask(picture.sha256)

    def test_small(self, folder: PhotoFolder, picture: Picture) -> None:
        folder.put(picture)
        assert opened(folder.small(picture.sha256)).size == (360, 270)

    def test_small_is_worked_out_once(
        self, folder: PhotoFolder, picture: Picture, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        folder.put(picture)
        first = folder.small(picture.sha256)
        monkeypatch.setattr(photo_folder, "small", lambda jpeg: b"worked out again")
        assert folder.small(picture.sha256) is first


class TestSweep:
    @pytest.mark.parametrize(("age_s", "stays"), [(DAY_S, True), (DAY_S + 1, False), (-DAY_S, True)])
    def test_what_nobody_recorded_goes_after_a_day(
        self, folder: PhotoFolder, picture: Picture, age_s: float, stays: bool
    ) -> None:
        folder.put(picture)
        aged(folder.folder / f"{picture.sha256}.jpg", age_s)
        folder.sweep([], NOW_S)
        assert (names(folder) != []) is stays

    def test_what_is_recorded_stays(self, folder: PhotoFolder, picture: Picture) -> None:
        folder.put(picture)
        aged(folder.folder / f"{picture.sha256}.jpg", 100 * DAY_S)
        assert folder.sweep({picture.sha256}, NOW_S) == []
        assert folder.read(picture.sha256) == picture.jpeg

    def test_half_written_ones_go_whoever_they_were(self, folder: PhotoFolder, picture: Picture) -> None:
        folder.put(picture)
        part = folder.folder / f"{picture.sha256}.jpg.part"
        part.write_bytes(b"half")
        aged(part, 2 * DAY_S)
        assert folder.sweep({picture.sha256}, NOW_S) == [part]

    def test_other_peoples_files_stay(self, folder: PhotoFolder) -> None:
        folder.folder.mkdir()
        other = folder.folder / "read me.txt"
        other.write_text("by hand")
        aged(other, 100 * DAY_S)
        assert folder.sweep([], NOW_S) == []

    def test_nothing_goes_once_older_records_were_brought_back(
        self, folder: PhotoFolder, picture: Picture
    ) -> None:
        """What was recorded after the copy was made is in none of the facts now, but may be wanted yet."""
        folder.put(picture)
        aged(folder.folder / f"{picture.sha256}.jpg", 100 * DAY_S)
        (folder.folder.parent / "coatbell.db.kept-20260302T080000Z").write_bytes(b"")
        assert folder.sweep([], NOW_S) == []
        assert names(folder) == [f"{picture.sha256}.jpg"]

    def test_no_folder_yet(self, folder: PhotoFolder) -> None:
        assert folder.sweep([], NOW_S) == []
