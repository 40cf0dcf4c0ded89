"""What the records take up: database, nightly copies, photos, and how much room is left for them."""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

from service.held import Held
from service.records.photo_files import PHOTOS_FOLDER
from service.records.store import Records
from service.restore import back_up_folder
from service.room.views import Trouble
from service.settings import Settings
from service.voice import say

NEAR = 0.9
"""From this share of the bound on, it is said on the board, and older readings are thinned out earlier."""
LAST_SPACE_BYTES = 300_000_000
"""The disk's last: the nightly copy and the system need it, however small the records are."""
SOON = timedelta(days=90)
REMEMBERED_AS = "storage by day"
DAYS_REMEMBERED = 30
DAY = timedelta(days=1)


@dataclass(frozen=True)
class StorageNow:
    """Bytes, as of `at`.

    free_inside: what was thinned out of the database and will be used again. disk_free: where the data folder lies,
    which need not be where PostgreSQL keeps its own. growth_a_day: None until two days are known.
    full_at: None if it never will be at that rate.
    oldest_reading: of those that still stand as they came. copies: how many nightly copies are kept.
    """

    at: datetime
    database: int
    free_inside: int
    back_ups: int
    photos: int
    limit: int
    disk_free: int
    growth_a_day: float | None
    full_at: datetime | None
    oldest_reading: datetime | None
    keep_readings_s: float
    copies: int

    @property
    def total(self) -> int:
        return self.database + self.free_inside + self.back_ups + self.photos

    @property
    def left(self) -> int:
        """What may still be written before the bound or the disk is reached."""
        return max(min(self.limit - self.total, self.disk_free), 0)

    @property
    def near_the_limit(self) -> bool:
        return self.total >= NEAR * self.limit

    @property
    def near_the_disks_end(self) -> bool:
        return self.disk_free < max(LAST_SPACE_BYTES, self.database if self.copies else 0)

    @property
    def full_soon(self) -> bool:
        return self.full_at is not None and self.full_at - self.at <= SOON

    @property
    def too_many_readings(self) -> bool:
        """Whether the readings, once every copy holds as many, would come near the bound; or the disk is near its end.

        Copies made before readings were thinned out go one a night: they must not make more be thinned out now.
        """
        to_come = self.database * (1 + self.copies) + self.photos
        return to_come >= NEAR * self.limit or self.near_the_disks_end


def look_at_storage(records: Records, settings: Settings, now: datetime) -> StorageNow:
    """Measure everything. Takes milliseconds."""
    size, folder = records.database_size(), settings.data.folder
    back_ups, photos = bytes_in(back_up_folder(settings)), bytes_in(folder / PHOTOS_FOLDER)
    found = StorageNow(
        at=now,
        database=size.used_bytes,
        free_inside=size.free_bytes,
        back_ups=back_ups,
        photos=photos,
        limit=settings.data.disk_limit_bytes,
        disk_free=_disk_free(folder),
        growth_a_day=None,
        full_at=None,
        oldest_reading=records.oldest_reading(),
        keep_readings_s=settings.data.keep_readings_s,
        copies=settings.back_up.keep if settings.data.on_sqlite else 0,
    )
    growth = _growth_a_day(records, now, found.total)
    return replace(found, growth_a_day=growth, full_at=_full_at(now, found.left, growth))


def note_storage(records: Records, storage: StorageNow) -> None:
    """Remember how much it is today, to know how fast it grows."""
    today = storage.at.date().isoformat()
    days = [day for day in _days(records) if day[0] < today]
    records.remember(REMEMBERED_AS, json.dumps([*days, (today, storage.total)][-DAYS_REMEMBERED:]))


def storage_troubles(storage: StorageNow | None) -> list[Trouble]:
    """For the board."""
    if storage is None:
        return []
    if storage.near_the_disks_end:
        return [Trouble("disk_nearly_full", Held(partial(_disk_words, storage)), None)]
    if storage.near_the_limit:
        return [Trouble("storage_nearly_full", Held(partial(_limit_words, storage)), None)]
    return []


def bytes_in(folder: Path) -> int:
    """What all files below a folder take up. One that goes away meanwhile does not count."""
    found = 0
    for path in folder.rglob("*") if folder.is_dir() else ():
        try:
            found += path.stat().st_size if path.is_file() else 0
        except OSError:
            continue
    return found


def size_words(size_bytes: float) -> str:
    """``3.7 GB``, ``212 MB``, ``0.4 MB``."""
    if size_bytes >= 1e9:
        return f"{size_bytes / 1e9:.1f} GB"
    return f"{size_bytes / 1e6:.0f} MB" if size_bytes >= 1e7 else f"{size_bytes / 1e6:.1f} MB"


def _disk_words(storage: StorageNow) -> str:
    return say(
        "Only {disk_free} are free on the disk of the records. Make room there, or move old back-ups to "
        "another machine. Older readings are thinned out to hourly means meanwhile.",
        disk_free=size_words(storage.disk_free),
    )


def _limit_words(storage: StorageNow) -> str:
    return say(
        "The records take up {total} of the {limit} they may. Give them more room (disk_limit in "
        "site.toml), or keep fewer back-ups. Older readings are thinned out earlier.",
        total=size_words(storage.total),
        limit=size_words(storage.limit),
    )


def _disk_free(folder: Path) -> int:
    there = next(path for path in (folder, *folder.absolute().parents) if path.exists())
    return shutil.disk_usage(there).free


def _days(records: Records) -> list[tuple[str, int]]:
    return [(day, size) for day, size in json.loads(records.recall(REMEMBERED_AS) or "[]")]


def _growth_a_day(records: Records, now: datetime, total: int) -> float | None:
    days = [day for day in _days(records) if day[0] < now.date().isoformat()]
    if not days:
        return None
    since = (now.date() - datetime.fromisoformat(days[0][0]).date()) / DAY
    return (total - days[0][1]) / since if since >= 1 else None


def _full_at(now: datetime, left: int, growth_a_day: float | None) -> datetime | None:
    """None also where it is so far off that nobody need know."""
    if growth_a_day is None or growth_a_day <= 0 or left / growth_a_day > 36_500:
        return None
    return now + DAY * (left / growth_a_day)
