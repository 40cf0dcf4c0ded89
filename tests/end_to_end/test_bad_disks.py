"""Disks that fill up, refuse, or give back less than they took: told in words, and nothing that they kept is lost."""

from __future__ import annotations

import os
import resource
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from service.clock import FakeClock
from service.errors import ShopError, Unavailable
from service.ledger_words import ledger_faults
from service.records.database import Database
from service.records.facts import NoteBody
from service.records.ledger_lines import read_book
from service.records.store import Records
from tests.end_to_end.nth_step import in_child
from tests.service.records.ledgers import LAST, made
from tests.service.records.making import START

WAL_HEADER, FRAME = 32, 24 + 4096
"""Sizes in bytes: https://www.sqlite.org/fileformat2.html, sections 4.1 and 4.2."""


def url(folder: Path) -> str:
    return f"sqlite:///{folder / 'coatbell.db'}"


def note(records: Records, number: int) -> int:
    return records.append(1, NoteBody(text=f"note {number}"), START, "bench 1", key=f"note-{number}").number


def note_on(records: Records, acknowledged: Path) -> None:
    for number in range(100, 200):
        note(records, number)
        acknowledged.write_text(str(number + 1))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Records whose last twenty entries have not come out of the WAL: the power failed."""
    made(url(tmp_path), FakeClock(START))

    def power_cut() -> None:
        records = Records(Database(url(tmp_path)), FakeClock(START))
        for number in range(20):
            note(records, number)
        os._exit(0)

    assert in_child(power_cut) == 0
    return tmp_path


def entries(folder: Path) -> int:
    """How many there are; every one of them must be as it was recorded."""
    book = read_book(url(folder))
    assert ledger_faults(book) == []
    return len(book.rows)


def opened(folder: Path) -> int:
    """As after a start of coatbell, which must be able to go on."""
    with Database(url(folder)) as database:
        records = Records(database, FakeClock(START))
        assert records.verify_chain() is None
        before = records.last_fact_number()
        assert note(records, 99) == before + 1
        return before


def test_after_a_power_cut_all_is_there(folder: Path) -> None:
    assert opened(folder) == LAST + 20
    assert entries(folder) == LAST + 21


@pytest.mark.parametrize("ends", ["-shm", "-wal"])
def test_what_lies_beside_the_records_may_be_missing(folder: Path, ends: str) -> None:
    """Without the WAL what stood in it is gone with the disk's own promise; what is left is whole."""
    (folder / f"coatbell.db{ends}").unlink()
    if ends == "-wal":
        (folder / "coatbell.db-shm").unlink()
    assert opened(folder) == (LAST + 20 if ends == "-shm" else LAST)


def test_a_wal_cut_off_anywhere_gives_back_whole_entries(
    folder: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    wal = folder / "coatbell.db-wal"
    size = wal.stat().st_size
    frames = (size - WAL_HEADER) // FRAME
    found = []
    cuts = [0, 1, WAL_HEADER - 1, WAL_HEADER]
    cuts += [WAL_HEADER + frame * FRAME + more for frame in range(0, frames, 3) for more in (0, 7, FRAME - 1)]
    for cut in sorted({*cuts, size}):
        where = tmp_path_factory.mktemp("cut")
        for part in folder.glob("coatbell.db*"):
            if not part.name.endswith("-shm"):
                shutil.copy(part, where)
        os.truncate(where / wal.name, cut)
        found.append(entries(where))
        assert opened(where) == found[-1]
        shutil.rmtree(where)
    assert found == sorted(found), "the more of it is there, the more entries are"
    assert (found[0], found[-1]) == (LAST, LAST + 20)


def test_a_garbled_wal_gives_back_what_stands_before(folder: Path) -> None:
    wal = folder / "coatbell.db-wal"
    (folder / "coatbell.db-shm").unlink()
    with wal.open("r+b") as handle:
        handle.seek(wal.stat().st_size // 2)
        handle.write(b"\xa5" * 64)
    found = opened(folder)
    assert LAST < found < LAST + 20
    assert entries(folder) == found + 1


@pytest.mark.parametrize("left", [0.05, 0.3, 0.6, 0.9])
def test_records_cut_off_are_refused_and_left_as_they_are(folder: Path, left: float) -> None:
    file = folder / "coatbell.db"
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    os.truncate(file, int(file.stat().st_size * left) // 512 * 512)
    before = file.read_bytes()
    with pytest.raises(Unavailable) as told:
        opened(folder)
    assert told.value.code == "database_damaged"
    assert "coatbell restore --newest" in told.value.todo
    assert file.read_bytes() == before


def test_a_file_that_may_grow_no_further_is_told_and_nothing_acknowledged_is_lost(folder: Path) -> None:
    """The system's own limit on a file's size; what SQLite is told then is a fault of the disk."""

    def until_refused() -> None:
        records = Records(Database(url(folder)), FakeClock(START))
        most = max(path.stat().st_size for path in folder.glob("coatbell.db*")) + 40 * FRAME
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
        with pytest.raises(ShopError) as told:
            note_on(records, folder / "acknowledged")
        assert told.value.code in ("disk_refused", "disk_full"), told.value
        assert "Everything recorded before is still there." in told.value.todo
        with pytest.raises(ShopError):
            note(records, 300)
        assert records.verify_chain() is None  # and it is read all the same
        os._exit(0)

    assert in_child(until_refused) == 0
    acknowledged = int((folder / "acknowledged").read_text()) - 100
    assert 0 < acknowledged < 100
    assert opened(folder) == LAST + 20 + acknowledged
    assert entries(folder) == LAST + 20 + acknowledged + 1
