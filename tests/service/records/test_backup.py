"""Back-ups are whole, the newest few stay, and the way back loses nothing."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import text

from service.clock import FakeClock
from service.errors import BadInput, NotFound, Unavailable
from service.records import backup
from service.records.backup import back_ups, restore
from service.records.database import Database
from service.records.store import Records
from tests.service.records.making import START, hang, minutes, reading, told

NIGHT_S = 24 * 3600.0


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "back-ups"


@pytest.fixture
def records(sqlite_records: Records) -> Records:
    hang(sqlite_records)
    return sqlite_records


def numbers(copy: Path) -> list[int]:
    with closing(sqlite3.connect(copy)) as connection:
        return [row[0] for row in connection.execute("SELECT number FROM facts ORDER BY number")]


def spoil(file: Path, start: int, length: int = 4096) -> None:
    with file.open("r+b") as handle:
        handle.seek(start)
        handle.write(b"\xa5" * length)


def test_a_back_up_holds_everything(records: Records, folder: Path) -> None:
    records.add_readings([reading()])
    copy = records.back_up(folder)
    assert copy == folder / "coatbell-20260302T142000Z.db"
    assert numbers(copy) == [1]
    assert [path.name for path in folder.iterdir()] == [copy.name]


def test_a_back_up_opens_as_records(records: Records, folder: Path, clock: FakeClock) -> None:
    fact = hang(records, "Dunlin")
    copy = records.back_up(folder)
    with Database(f"sqlite:///{copy}") as database:
        again = Records(database, clock)
        assert again.facts(fact.mould_id) == [fact]
        assert again.verify_chain() is None


def test_a_back_up_is_one_file(records: Records, folder: Path) -> None:
    copy = records.back_up(folder)
    with closing(sqlite3.connect(copy)) as connection:
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)


def test_records_go_on_after_a_back_up(records: Records, folder: Path) -> None:
    copy = records.back_up(folder)
    assert hang(records, "Dunlin").number == 2
    assert numbers(copy) == [1]


def test_what_is_being_written_is_not_in_the_copy(
    records: Records, folder: Path, sqlite_database: Database
) -> None:
    with sqlite_database.write() as session:
        session.execute(text("INSERT INTO memory VALUES ('half', 'done')"))
        copy = records.back_up(folder)
    with closing(sqlite3.connect(copy)) as connection:
        assert connection.execute("SELECT count(*) FROM memory").fetchone() == (0,)


@pytest.mark.parametrize(("keep", "left"), [(14, 4), (4, 4), (3, 3), (1, 1), (0, 1)])
def test_the_newest_copies_stay(
    records: Records, folder: Path, clock: FakeClock, keep: int, left: int
) -> None:
    for _ in range(4):
        newest = records.back_up(folder, keep)
        clock.advance(NIGHT_S)
    assert len(back_ups(folder)) == left
    assert back_ups(folder)[-1] == newest


def test_a_copy_made_with_the_clock_put_back_stays(records: Records, folder: Path, clock: FakeClock) -> None:
    for _ in range(3):
        records.back_up(folder, keep=2)
        clock.advance(NIGHT_S)
    clock.jump(START - timedelta(days=365))
    copy = records.back_up(folder, keep=2)
    assert copy.exists()
    assert len(back_ups(folder)) == 2


def test_other_files_in_the_folder_are_left_alone(records: Records, folder: Path, clock: FakeClock) -> None:
    folder.mkdir()
    for name in ("coatbell-notes.db", "recipes.zip", "coatbell-20260101T000000Z.db.old"):
        (folder / name).write_text("mine")
    for _ in range(3):
        records.back_up(folder, keep=1)
        clock.advance(NIGHT_S)
    assert len(list(folder.iterdir())) == 4


def test_an_unfinished_copy_of_a_power_cut_is_no_trouble(records: Records, folder: Path) -> None:
    folder.mkdir()
    (folder / "unfinished.part").write_bytes(b"\x00" * 5000)
    assert numbers(records.back_up(folder)) == [1]
    assert len(list(folder.iterdir())) == 1


def test_postgresql_is_backed_up_by_its_own_means(
    postgresql_url: str, folder: Path, clock: FakeClock
) -> None:
    with Database(postgresql_url) as database, told(Unavailable, "back_up_elsewhere", "pg_dump"):
        Records(database, clock).back_up(folder)
    assert not folder.exists()


# Trouble


def test_a_folder_that_cannot_be_made_is_told(records: Records, tmp_path: Path) -> None:
    (tmp_path / "back-ups").write_text("a file in the way")
    with told(Unavailable, "database_read_only", "back-ups"):
        records.back_up(tmp_path / "back-ups" / "nightly")


def test_a_full_back_up_disk_is_told_and_leaves_no_half_copy(
    records: Records, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = sqlite3.connect

    def small_disk(place: object, **more: object) -> sqlite3.Connection:
        connection: sqlite3.Connection = whole(place, **more)  # type: ignore[call-overload]
        connection.execute("PRAGMA max_page_count=3")
        return connection

    with monkeypatch.context() as patched:
        patched.setattr(sqlite3, "connect", small_disk)
        with told(Unavailable, "disk_full", str(folder)):
            records.back_up(folder)
    assert list(folder.iterdir()) == []
    assert hang(records, "Dunlin").number == 2


def test_damaged_records_never_push_out_a_good_copy(
    records: Records, folder: Path, clock: FakeClock, sqlite_database: Database
) -> None:
    good = records.back_up(folder, keep=1)
    file = sqlite_database.file
    assert file is not None
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        page = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'readings'").fetchone()[0]
    sqlite_database.engine.dispose()
    spoil(file, (page - 1) * 4096)
    clock.advance(NIGHT_S)
    with told(Unavailable, "database_damaged", str(file)):
        records.back_up(folder, keep=1)
    assert back_ups(folder) == [good]
    assert list(folder.iterdir()) == [good]
    with told(Unavailable, "database_damaged"):
        hang(records, "Dunlin")


def test_a_bad_back_up_disk_is_told_and_recording_goes_on(
    records: Records, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def badly(source: Path, part: Path) -> None:
        backup_pages(source, part)
        spoil(part, 0, 200)

    backup_pages = backup._copy_pages
    monkeypatch.setattr(backup, "_copy_pages", badly)
    with told(Unavailable, "back_up_failed", str(folder), "sound"):
        records.back_up(folder)
    assert list(folder.iterdir()) == []
    assert hang(records, "Dunlin").number == 2


def test_a_copy_that_cannot_be_looked_at_is_not_called_damaged(
    records: Records, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unplugged(file: Path) -> sqlite3.Connection:
        if file.suffix == ".part":
            raise sqlite3.OperationalError("disk I/O error")
        return reading_connection(file)

    reading_connection = backup._reading
    monkeypatch.setattr(backup, "_reading", unplugged)
    with told(Unavailable, "database_away", "unfinished.part", "disk I/O error"):
        records.back_up(folder)
    assert list(folder.iterdir()) == []
    assert hang(records, "Dunlin").number == 2


# The way back


@pytest.fixture
def copy(records: Records, folder: Path, sqlite_database: Database) -> Path:
    """A copy with one fact, made before the records got a second one and coatbell was stopped."""
    made = records.back_up(folder)
    hang(records, "Dunlin")
    sqlite_database.close()
    return made


def test_the_way_back_keeps_the_old_file_aside(copy: Path, tmp_path: Path, clock: FakeClock) -> None:
    file = tmp_path / "coatbell.db"
    aside = restore(file, copy, minutes(10))
    assert aside == tmp_path / "coatbell.db.kept-20260302T143000Z"
    assert numbers(file) == [1]
    assert numbers(aside) == [1, 2]
    with Database(f"sqlite:///{file}") as database:
        assert Records(database, clock).last_fact_number() == 1
    assert numbers(copy) == [1]


def test_the_way_back_from_a_damaged_file(copy: Path, tmp_path: Path, clock: FakeClock) -> None:
    file = tmp_path / "coatbell.db"
    spoil(file, 0, 200)
    damaged = file.read_bytes()
    with told(Unavailable, "database_damaged"):
        Database(f"sqlite:///{file}")
    aside = restore(file, copy, minutes(10))
    assert aside is not None
    assert aside.read_bytes() == damaged
    with Database(f"sqlite:///{file}") as database:
        assert hang(Records(database, clock), "Dunlin").number == 2


def test_what_lies_beside_the_old_file_goes_with_it(copy: Path, tmp_path: Path) -> None:
    file = tmp_path / "coatbell.db"
    (tmp_path / "coatbell.db-wal").write_bytes(b"left over")
    aside = restore(file, copy, minutes(10))
    assert aside is not None
    assert aside.with_name(f"{aside.name}-wal").read_bytes() == b"left over"
    assert not (tmp_path / "coatbell.db-wal").exists()
    assert numbers(file) == [1]


def test_coming_back_twice_in_a_second_overwrites_nothing(copy: Path, tmp_path: Path) -> None:
    file = tmp_path / "coatbell.db"
    aside = {restore(file, copy, minutes(10)) for _ in range(3)}
    assert len(aside) == 3
    assert all(path is not None and path.exists() for path in aside)


def test_the_way_back_to_an_empty_place(copy: Path, tmp_path: Path) -> None:
    file = tmp_path / "new" / "coatbell.db"
    assert restore(file, copy, minutes(10)) is None
    assert numbers(file) == [1]


def test_a_copy_that_is_not_there_is_told(copy: Path, tmp_path: Path) -> None:
    with told(NotFound, "back_up_unknown", "nightly.db"):
        restore(tmp_path / "coatbell.db", copy.with_name("nightly.db"), minutes(10))
    assert numbers(tmp_path / "coatbell.db") == [1, 2]


@pytest.mark.parametrize("start", [0, 4096])
def test_a_damaged_copy_moves_nothing(copy: Path, tmp_path: Path, start: int) -> None:
    spoil(copy, start)
    with told(BadInput, "back_up_damaged", "older"):
        restore(tmp_path / "coatbell.db", copy, minutes(10))
    assert numbers(tmp_path / "coatbell.db") == [1, 2]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["back-ups", "coatbell.db"]


def test_a_copy_of_something_else_moves_nothing(copy: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.db"
    with closing(sqlite3.connect(other)) as connection:
        connection.execute("CREATE TABLE songs (title)")
    with told(BadInput, "back_up_damaged"):
        restore(tmp_path / "coatbell.db", other, minutes(10))
