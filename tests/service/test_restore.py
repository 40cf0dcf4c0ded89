"""Bringing the records back from a copy, and what is told when that cannot be."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from sqlalchemy import create_engine

from service.clock import FakeClock
from service.errors import Unavailable
from service.keep_copy import backup_command
from service.ledger_command import ledger_command
from service.records.backup import back_ups
from service.records.database import Database
from service.records.facts import NoteBody
from service.records.ledger_lines import read_book
from service.records.lock import only_one
from service.records.one_service import only_service
from service.records.store import Records
from service.restore import BACK_UP_FOLDER, refuse_to_begin_anew, restore_command
from service.settings import Settings, load_settings
from tests.end_to_end.nth_step import in_child, until_step
from tests.service.records.ledgers import PICTURE, dump, keep_picture, made

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


def test_one_made_while_the_clock_was_ahead_is_not_taken_for_the_newest(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (good,) = back_ups(folder / BACK_UP_FOLDER)
    ahead = good.with_name("coatbell-20960101T000000Z.db")
    shutil.copy(good, ahead)
    assert run(folder, "--newest") == 2
    assert f"{ahead}, is of a time to come" in capsys.readouterr().err
    assert rooms(folder) == ["Old", "New"]
    assert run(folder, str(good)) == 0
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


def test_a_postgresql_that_is_away_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "settings"
    own.mkdir()
    (own / "site.toml").write_text(
        '[data]\ndatabase = "postgresql+psycopg://coatbell@127.0.0.1:1/coatbell"\n'
    )
    copy = tmp_path / "copy.db"
    copy.write_bytes(b"")
    assert run(tmp_path, str(copy), "--configs", str(own)) == 2
    assert "cannot be reached" in capsys.readouterr().err


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


def test_photos_come_back_and_what_lay_there_is_kept(folder: Path) -> None:
    made(f"sqlite:///{folder / 'coatbell.db'}", FakeClock(NOON))
    photo = keep_picture(folder)
    assert backup_command(["--data", str(folder)]) == 0
    photo.write_bytes(b"garbled")
    assert run(folder, "--newest") == 0
    assert photo.read_bytes() == PICTURE
    assert [path.read_bytes() for path in photo.parent.glob("*.kept-*")] == [b"garbled"]


def test_photos_that_are_nowhere_are_told(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made(f"sqlite:///{folder / 'coatbell.db'}", FakeClock(NOON))
    assert backup_command(["--data", str(folder)]) == 0
    assert run(folder, "--newest") == 0
    assert "The photo of entry" in capsys.readouterr().out


def test_a_copy_in_which_something_was_changed_is_refused_before_anything_is_moved(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = folder / "coatbell.db"
    made(f"sqlite:///{file}", FakeClock(NOON))
    assert backup_command(["--data", str(folder)]) == 0
    copy = back_ups(folder / BACK_UP_FOLDER)[-1]
    with closing(sqlite3.connect(copy)) as connection:
        connection.execute("UPDATE facts SET hand = 'nobody' WHERE number = 5")
        connection.commit()
    before = dump(file)
    assert run(folder, "--newest") == 2
    told = capsys.readouterr().err
    assert "Entry 5 was changed" in told
    assert "--as-it-is" in told
    assert dump(file) == before
    assert list(folder.glob("*.kept-*")) == []
    assert run(folder, "--newest", "--as-it-is") == 0
    assert dump(file) == dump(copy)


def test_heads_from_before_do_not_speak_against_what_was_brought_back(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made(f"sqlite:///{folder / 'coatbell.db'}", FakeClock(NOON))
    old = back_ups(folder / BACK_UP_FOLDER)[0]
    assert backup_command(["--data", str(folder)]) == 0
    assert ledger_command(["verify", "--data", str(folder)]) == 1  # a photo is missing
    keep_picture(folder)
    assert ledger_command(["verify", "--data", str(folder)]) == 0
    assert run(folder, str(old)) == 0
    capsys.readouterr()
    assert ledger_command(["verify", "--data", str(folder)]) == 0
    told = capsys.readouterr().out
    assert "1 head from before older records were brought back is no longer asked." in told
    assert "another key" not in told
    (folder / "ledger.key").unlink()  # the heads went along to a new machine
    for head in (folder / BACK_UP_FOLDER / "heads").glob("*"):
        if "brought back" in head.read_text():
            head.unlink()
    assert run(folder, str(old)) == 0
    capsys.readouterr()
    assert ledger_command(["verify", "--data", str(folder)]) == 0
    assert "If nobody brought back a copy then, everything after entry" in capsys.readouterr().out


def test_what_was_kept_aside_can_be_brought_back_like_a_copy(folder: Path) -> None:
    assert run(folder, "--newest") == 0
    (kept,) = folder.glob("coatbell.db.kept-*[0-9]Z")
    assert run(folder, str(kept)) == 0
    assert rooms(folder) == ["Old", "New"]


def test_not_under_a_service_that_runs_from_another_folder(
    folder: Path, tmp_path_factory: pytest.TempPathFactory, capsys: pytest.CaptureFixture[str]
) -> None:
    with only_service(f"sqlite:///{folder / 'coatbell.db'}"):
        assert run(folder, "--newest") == 2
    assert "already running" in capsys.readouterr().err


@pytest.mark.parametrize("waiting", [False, True])
def test_broken_off_anywhere_the_old_or_the_new_is_there_and_what_to_do_is_told(
    tmp_path: Path, waiting: bool
) -> None:
    """Killed before every step that changes the disk. waiting: the old records have not yet come out of their WAL."""
    new, old = as_they_are(tmp_path / "all", waiting)
    steps, ended = 0, False
    while not ended:
        folder = tmp_path / f"step-{steps}"
        shutil.copytree(tmp_path / "all", folder)
        ended = until_step(steps, lambda folder=folder: run(folder, "--newest"))  # type: ignore[misc]
        settings = load_settings(None, {"data": {"folder": str(folder)}})
        told = refusal(settings)
        assert told is not None or dump_beside(folder / "coatbell.db") in (old, new), steps
        assert told is None or ("restore_unfinished" in told and "coatbell restore --newest" in told), steps
        assert run(folder, "--newest") == 0  # as it says
        assert refusal(settings) is None
        assert dump(folder / "coatbell.db") == new
        kept = [
            path for path in folder.glob("coatbell.db.kept-*") if not path.name.endswith(("-wal", "-shm"))
        ]
        assert old in [dump_beside(path) for path in kept], steps
        assert ledger_command(["verify", "--data", str(folder)]) == 0
        steps += 1
    assert steps > 15


def as_they_are(folder: Path, waiting: bool) -> tuple[dict[str, list[tuple[Any, ...]]], ...]:
    """Records with a back-up and one note more since: what the back-up holds, and what stands there now."""
    url = f"sqlite:///{folder / 'coatbell.db'}"
    made(url, FakeClock(NOON))
    keep_picture(folder)
    assert backup_command(["--data", str(folder)]) == 0
    new = dump(folder / "coatbell.db")
    add_a_note(url, waiting)
    old = dump_beside(folder / "coatbell.db")
    assert len(old["facts"]) == len(new["facts"]) + 1
    return new, old


def refusal(settings: Settings) -> str | None:
    """What a start says against it."""
    try:
        refuse_to_begin_anew(settings)
    except Unavailable as error:
        return f"{error.code}: {error}"
    return None


def add_a_note(url: str, waiting: bool) -> None:
    """waiting: left in the WAL, as a power cut leaves it."""

    def write() -> None:
        database = Database(url)
        Records(database, FakeClock(NOON)).append(1, NoteBody(text="since then"), NOON, "bench 1")
        if waiting:
            os._exit(0)
        database.close()

    assert in_child(write) == 0


def dump_beside(file: Path) -> dict[str, list[tuple[Any, ...]]]:
    """What a file holds together with its WAL, looked at in a copy so that nothing is folded in."""
    with TemporaryDirectory() as elsewhere:
        for end in ("", "-wal"):
            part = file.with_name(file.name + end)
            if part.exists():
                shutil.copy(part, Path(elsewhere) / f"x.db{end}")
        return dump(Path(elsewhere) / "x.db")


@pytest.mark.postgresql
def test_on_postgresql_a_copy_comes_back_with_its_photos(
    fresh_postgresql_url: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made(fresh_postgresql_url, FakeClock(NOON))
    photo = keep_picture(tmp_path)
    (tmp_path / "site.toml").write_text(f"[data]\ndatabase = {json.dumps(fresh_postgresql_url)}\n")
    own = ["--configs", str(tmp_path)]
    assert backup_command([*own, "--data", str(tmp_path)]) == 0
    assert run(tmp_path, *own) == 0
    assert ".dump" in capsys.readouterr().out
    photo.unlink()
    book = read_book(fresh_postgresql_url)
    with only_service(fresh_postgresql_url):
        assert run(tmp_path, "--newest", *own) == 2
    assert run(tmp_path, "--newest", *own) == 0
    told = capsys.readouterr().out
    assert "kept as the tables of the schema coatbell_kept_" in told
    assert read_book(fresh_postgresql_url).rows == book.rows
    assert photo.read_bytes() == PICTURE
    assert ledger_command(["verify", "--data", str(tmp_path), *own]) == 0
    schema = told.split("schema ")[1].split(".")[0]
    engine = create_engine(fresh_postgresql_url)
    with engine.begin() as connection:
        connection.exec_driver_sql(f"DROP SCHEMA {schema} CASCADE")
    engine.dispose()
