"""How large the database is, and how a file shrinks once much of it is free."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from service.records import storage_store
from service.records.database import Database
from service.records.store import Records
from tests.service.records.making import START, hang, minutes, reading
from tests.service.records.old_records import write_old_records


def fill(records: Records, count: int, first: int = 0) -> None:
    for start in range(first, first + count, 5000):
        records.add_readings([reading(START + timedelta(seconds=30 * n)) for n in range(start, start + 5000)])


def thin_out(records: Records) -> None:
    while records.thin_out_some(START + timedelta(days=1000)):
        pass


def test_it_grows_with_what_is_in_it(records: Records) -> None:
    empty = records.database_size().used_bytes
    fill(records, 20_000)
    grown = records.database_size().used_bytes - empty
    assert 20_000 * 20 < grown < 20_000 * 200


def test_on_another_machine_nothing_is_known_to_be_free(records: Records, database: Database) -> None:
    hang(records)
    if database.file is None:
        assert records.database_size().free_bytes == 0
        assert not records.give_back_some()


class TestGivingBack:
    def test_what_is_thinned_out_is_free_inside(self, sqlite_records: Records) -> None:
        fill(sqlite_records, 20_000)
        full = sqlite_records.database_size()
        thin_out(sqlite_records)
        thin = sqlite_records.database_size()
        assert full.free_bytes < 50_000
        assert thin.free_bytes > 400_000

    def test_a_step_at_a_time_the_file_shrinks(
        self, sqlite_records: Records, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(storage_store, "PAGES_AT_A_TIME", 40)
        fill(sqlite_records, 20_000)
        thin_out(sqlite_records)
        before = sqlite_records.database_size()
        assert sqlite_records.give_back_some()
        one = sqlite_records.database_size()
        assert before.free_bytes - one.free_bytes == 40 * 4096
        while sqlite_records.give_back_some():
            pass
        end = sqlite_records.database_size()
        assert end.free_bytes <= 0.1 * (end.free_bytes + end.used_bytes)
        sqlite_records._database.close()
        assert (tmp_path / "coatbell.db").stat().st_size < before.free_bytes + before.used_bytes - 400_000

    def test_a_little_is_kept_for_what_comes(self, sqlite_records: Records) -> None:
        fill(sqlite_records, 20_000)
        assert not sqlite_records.give_back_some()

    def test_what_comes_uses_what_is_free(self, sqlite_records: Records, tmp_path: Path) -> None:
        fill(sqlite_records, 20_000)
        thin_out(sqlite_records)
        before = sqlite_records.database_size()
        fill(sqlite_records, 10_000, first=100_000)
        after = sqlite_records.database_size()
        assert after.free_bytes < before.free_bytes - 200_000

    def test_all_that_was_recorded_is_still_there(self, sqlite_records: Records) -> None:
        hang(sqlite_records)
        fill(sqlite_records, 20_000)
        thin_out(sqlite_records)
        sqlite_records.add_readings([reading(minutes(20_000))])
        while sqlite_records.give_back_some():
            pass
        assert sqlite_records.verify_chain() is None
        assert sqlite_records.newest("shell-room-north")[0].at == minutes(20_000)

    def test_an_old_file_that_was_written_anew_shrinks_too(self, sqlite_url: str, clock: object) -> None:
        write_old_records(sqlite_url)
        with Database(sqlite_url) as database:
            records = Records(database, clock)  # type: ignore[arg-type]
            fill(records, 20_000)
            thin_out(records)
            assert records.give_back_some()
