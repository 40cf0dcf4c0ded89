"""Bringing the records back from a copy, and what is told when that cannot be."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from service.clock import FakeClock
from service.errors import Unavailable
from service.records.database import Database
from service.records.lock import only_one
from service.records.store import Records
from service.restore import BACK_UP_FOLDER, refuse_to_begin_anew, restore_command
from service.settings import load_settings

NOON = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Records with a room called "Old" in the copy, and "New" besides since."""
    with Database(f"sqlite:///{tmp_path / 'coatbell.db'}") as database:
        records = Records(database, FakeClock(NOON))
        records.add_room("Old")
        records.back_up(tmp_path / BACK_UP_FOLDER)
        records.add_room("New")
    return tmp_path


def rooms(folder: Path) -> list[str]:
    with Database(f"sqlite:///{folder / 'coatbell.db'}") as database:
        return [room.name for room in Records(database, FakeClock(NOON)).rooms()]


def run(folder: Path, *arguments: str) -> int:
    return restore_command([*arguments, "--data", str(folder)])


def test_without_a_name_the_copies_are_listed_and_nothing_is_done(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(folder) == 0
    assert BACK_UP_FOLDER in capsys.readouterr().out
    assert rooms(folder) == ["Old", "New"]


def test_no_copies_yet_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(tmp_path) == 0
    assert "No back-ups yet" in capsys.readouterr().out


def test_the_newest_comes_back_and_the_other_file_is_kept(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(folder, "--newest") == 0
    assert rooms(folder) == ["Old"]
    kept = Path(capsys.readouterr().out.split("kept as ")[1].strip().rstrip("."))
    assert kept.is_file()


def test_a_damaged_file_is_no_hindrance(folder: Path) -> None:
    (folder / "coatbell.db").write_bytes(b"this is no database" * 500)
    assert run(folder, "--newest") == 0
    assert rooms(folder) == ["Old"]


def test_a_copy_can_be_named(folder: Path) -> None:
    (copy,) = (folder / BACK_UP_FOLDER).glob("*.db*")
    assert run(folder, str(copy)) == 0
    assert rooms(folder) == ["Old"]


@pytest.mark.parametrize("arguments", [["nowhere.db"], ["--newest"]])
def test_what_is_not_there_is_told(
    tmp_path: Path, arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(tmp_path, *arguments) == 2
    assert "coatbell: " in capsys.readouterr().err


def test_a_damaged_copy_is_refused_and_nothing_is_moved(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (copy,) = (folder / BACK_UP_FOLDER).glob("*.db*")
    copy.write_bytes(b"x" * 5000)
    assert run(folder, str(copy)) == 2
    assert "damaged" in capsys.readouterr().err
    assert rooms(folder) == ["Old", "New"]


def test_not_under_a_running_service(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with only_one(folder):
        assert run(folder, "--newest") == 2
    assert "already running" in capsys.readouterr().err
    assert rooms(folder) == ["Old", "New"]


def test_postgresql_has_its_own_way(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "settings"
    own.mkdir()
    (own / "site.toml").write_text('[data]\ndatabase = "postgresql+psycopg://coatbell@localhost/coatbell"\n')
    copy = tmp_path / "copy.db"
    copy.write_bytes(b"")
    assert run(tmp_path, str(copy), "--configs", str(own)) == 2
    assert "pg_restore" in capsys.readouterr().err


@pytest.mark.parametrize("lost", ["missing", "empty"])
def test_an_empty_shop_does_not_take_the_place_of_one_that_was_backed_up(folder: Path, lost: str) -> None:
    (folder / "coatbell.db").unlink()
    if lost == "empty":
        (folder / "coatbell.db").touch()
    with pytest.raises(Unavailable, match="coatbell restore --newest") as told:
        refuse_to_begin_anew(load_settings(None, {"data": {"folder": str(folder)}}))
    assert told.value.code == "records_gone"
    assert run(folder, "--newest") == 0
    refuse_to_begin_anew(load_settings(None, {"data": {"folder": str(folder)}}))
    assert rooms(folder) == ["Old"]


def test_a_new_shop_and_one_elsewhere_may_begin(tmp_path: Path, folder: Path) -> None:
    refuse_to_begin_anew(load_settings(None, {"data": {"folder": str(tmp_path / "new")}}))
    (folder / "coatbell.db").unlink()
    elsewhere = {"folder": str(folder), "database": "postgresql://bench@localhost/coatbell"}
    refuse_to_begin_anew(load_settings(None, {"data": elsewhere}))
