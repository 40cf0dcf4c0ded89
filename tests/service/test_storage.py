"""What the records take up: measured, remembered day by day, and said in good time."""

from __future__ import annotations

from collections import namedtuple
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from service import storage as storage_module
from service.clock import FakeClock
from service.records.database import Database
from service.records.store import Records
from service.settings import Settings, load_settings
from service.storage import (
    LAST_SPACE_BYTES,
    NEAR,
    StorageNow,
    bytes_in,
    look_at_storage,
    note_storage,
    size_words,
    storage_troubles,
)
from tests.service.room.cases import T0

GB = 1_000_000_000
Disk = namedtuple("Disk", "total used free")


def now(**other: object) -> StorageNow:
    """A shop with room to spare."""
    given = StorageNow(
        at=T0,
        database=GB // 4,
        free_inside=0,
        back_ups=3 * GB,
        photos=GB // 10,
        limit=12 * GB,
        disk_free=10 * GB,
        growth_a_day=1e7,
        full_at=T0 + timedelta(days=500),
        oldest_reading=None,
        keep_readings_s=400 * 86400.0,
        copies=14,
    )
    return replace(given, **other)  # type: ignore[arg-type]


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return load_settings(None, {"data": {"folder": str(tmp_path), "disk_limit": "1 GB"}}, {})


@pytest.fixture
def records(settings: Settings) -> Iterator[Records]:
    with Database(settings.data.database_url) as database:
        yield Records(database, FakeClock(T0))


class TestLook:
    def test_every_part_is_measured(self, records: Records, settings: Settings, tmp_path: Path) -> None:
        (tmp_path / "photos" / "12").mkdir(parents=True)
        (tmp_path / "photos" / "12" / "a.jpg").write_bytes(b"x" * 1000)
        copy = records.back_up(tmp_path / "back-ups")
        found = look_at_storage(records, settings, T0)
        assert found.photos == 1000
        assert found.back_ups == copy.stat().st_size > 0
        log = (tmp_path / "coatbell.db-wal").stat().st_size
        assert found.database + found.free_inside - log == copy.stat().st_size
        assert found.total == found.database + found.free_inside + found.back_ups + 1000
        assert found.limit == GB
        assert found.disk_free > 0

    def test_an_empty_shop_has_no_folders_yet(self, records: Records, settings: Settings) -> None:
        found = look_at_storage(records, settings, T0)
        assert (found.back_ups, found.photos, found.growth_a_day, found.full_at) == (0, 0, None, None)

    def test_a_file_that_goes_away_meanwhile_does_not_count(self, tmp_path: Path) -> None:
        (tmp_path / "gone").symlink_to(tmp_path / "nowhere")
        (tmp_path / "there").write_bytes(b"12345")
        assert bytes_in(tmp_path) == 5
        assert bytes_in(tmp_path / "nowhere") == 0


class TestGrowth:
    def test_is_the_slope_from_the_oldest_day_remembered(self, records: Records, settings: Settings) -> None:
        first = look_at_storage(records, settings, T0)
        note_storage(records, replace(first, database=first.database - 40_000))
        assert look_at_storage(records, settings, T0).growth_a_day is None
        grown = look_at_storage(records, settings, T0 + timedelta(days=4)).growth_a_day
        assert grown == pytest.approx(10_000, abs=4096)

    def test_tells_when_it_is_full(
        self, records: Records, settings: Settings, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(storage_module.shutil, "disk_usage", lambda _: Disk(0, 0, 500 * GB))
        first = look_at_storage(records, settings, T0)
        note_storage(records, replace(first, database=first.database - 50_000_000))
        later = T0 + timedelta(days=5)
        found = look_at_storage(records, settings, later)
        assert found.full_at is not None
        assert (found.full_at - later).total_seconds() == pytest.approx(86400 * found.left / 1e7, rel=1e-3)
        assert found.full_soon is ((GB - found.total) / 1e7 <= 90)

    def test_the_disks_end_counts_where_it_comes_first(
        self, records: Records, settings: Settings, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(storage_module.shutil, "disk_usage", lambda _: Disk(0, 0, 20_000_000))
        assert look_at_storage(records, settings, T0).left == 20_000_000

    def test_what_shrinks_is_never_full(self, records: Records, settings: Settings) -> None:
        first = look_at_storage(records, settings, T0)
        note_storage(records, replace(first, photos=10_000_000))
        found = look_at_storage(records, settings, T0 + timedelta(days=2))
        assert found.growth_a_day is not None
        assert found.growth_a_day < 0
        assert found.full_at is None

    def test_a_day_is_remembered_once_and_old_ones_go(self, records: Records, settings: Settings) -> None:
        for day in range(40):
            for hour in (1, 5):
                note_storage(records, now(at=T0 + timedelta(days=day, hours=hour), photos=day))
        kept = storage_module._days(records)
        assert len(kept) == 30
        assert kept[-1][1] - kept[0][1] == 29

    def test_a_clock_set_back_starts_no_trouble(self, records: Records, settings: Settings) -> None:
        note_storage(records, now(at=T0 + timedelta(days=9)))
        assert look_at_storage(records, settings, T0).growth_a_day is None


class TestTroubles:
    def test_none_while_there_is_room(self) -> None:
        assert storage_troubles(now()) == []
        assert storage_troubles(None) == []

    @pytest.mark.parametrize(
        ("back_ups", "told"), [(int(NEAR * 12 * GB) - GB // 4 - GB // 10, 1), (10 * GB, 0)]
    )
    def test_near_the_bound_to_the_byte(self, back_ups: int, told: int) -> None:
        found = storage_troubles(now(back_ups=back_ups))
        assert [trouble.code for trouble in found] == ["storage_nearly_full"] * told
        if not told:
            assert storage_troubles(now(back_ups=int(NEAR * 12 * GB) - GB // 4 - GB // 10 - 1)) == []

    def test_it_says_how_much_and_what_to_do(self) -> None:
        (trouble,) = storage_troubles(now(back_ups=11 * GB))
        assert "11.3 GB of the 12.0 GB" in trouble.words
        assert "disk_limit in site.toml" in trouble.words

    @pytest.mark.parametrize(("free", "told"), [(LAST_SPACE_BYTES - 1, True), (LAST_SPACE_BYTES, False)])
    def test_the_disks_last_space_to_the_byte(self, free: int, told: bool) -> None:
        found = storage_troubles(now(disk_free=free))
        assert [trouble.code for trouble in found] == (["disk_nearly_full"] if told else [])
        assert all("Only 300 MB are free" in trouble.words for trouble in found)

    def test_a_nightly_copy_must_fit_on_the_disk(self) -> None:
        assert storage_troubles(now(database=GB, disk_free=GB - 1))
        assert not storage_troubles(now(database=GB, disk_free=GB))
        assert not storage_troubles(now(database=GB, disk_free=GB - 1, copies=0))


class TestTooManyReadings:
    def test_copies_made_before_they_were_thinned_out_do_not_count(self) -> None:
        """They go one a night: else one tight night would thin out everything."""
        assert not now(back_ups=11 * GB, database=GB // 4).too_many_readings

    def test_copies_to_come_do(self) -> None:
        most = int(NEAR * 12 * GB) / 15
        assert now(database=int(most) + 1, photos=0).too_many_readings
        assert not now(database=int(most) - 1, photos=0).too_many_readings
        assert not now(database=int(most) + 1, photos=0, copies=0).too_many_readings

    def test_nor_when_the_disk_ends(self) -> None:
        assert now(disk_free=1).too_many_readings


@pytest.mark.parametrize(
    ("size", "words"),
    [
        (0, "0.0 MB"),
        (450_000, "0.5 MB"),
        (9_940_000, "9.9 MB"),
        (212_400_000, "212 MB"),
        (3_650_000_000, "3.6 GB"),
    ],
)
def test_sizes_in_words(size: int, words: str) -> None:
    assert size_words(size) == words
