"""What the records take up, in sentences."""

from __future__ import annotations

from datetime import datetime

from service.local_time import local, long_day
from service.records.shop_facts import Site
from service.storage import StorageNow, size_words
from service.voice import say

DAY_S = 86400.0


def storage_lines(storage: StorageNow, site: Site | None) -> list[str]:
    """How much it is, how much there is room for, and until when that will do, if not for long."""
    lines = [_in_all_line(storage), _parts_line(storage), _readings_line(storage, site)]
    return [*lines, _full_line(storage, site)] if storage.full_soon else lines


def _in_all_line(storage: StorageNow) -> str:
    return say(
        "{total} in all, of the {limit} they may take up; {disk_free} are free on the disk.",
        total=size_words(storage.total),
        limit=size_words(storage.limit),
        disk_free=size_words(storage.disk_free),
    )


def _parts_line(storage: StorageNow) -> str:
    parts = {
        "database": size_words(storage.database),
        "back_ups": size_words(storage.back_ups),
        "photos": size_words(storage.photos),
    }
    if not storage.free_inside:
        return say("The database {database}, back-ups {back_ups}, photos {photos}.", **parts)
    return say(
        "The database {database} and {free} free in it to be used again, back-ups {back_ups}, photos {photos}.",
        free=size_words(storage.free_inside),
        **parts,
    )


def _readings_line(storage: StorageNow, site: Site | None) -> str:
    kept = say(
        "Readings are kept as they came for {keep_readings_s:.0f} days, then as hourly means",
        keep_readings_s=storage.keep_readings_s / DAY_S,
    )
    if storage.oldest_reading is None:
        return f"{kept}."
    return say(
        "{kept}; the oldest as it came is from {oldest_reading}.",
        kept=kept,
        oldest_reading=_date(storage.oldest_reading, site),
    )


def _full_line(storage: StorageNow, site: Site | None) -> str:
    assert storage.full_at is not None
    return say(
        "At the rate of these days that is full about {full_at}.", full_at=_date(storage.full_at, site)
    )


def _date(at: datetime, site: Site | None) -> str:
    return f"{long_day(at, site)} {local(at, site).year}"
