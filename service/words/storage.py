"""What the records take up, in sentences."""

from __future__ import annotations

from datetime import datetime

from service.local_time import local, long_day
from service.records.shop_facts import Site
from service.storage import StorageNow, size_words

DAY_S = 86400.0


def storage_lines(storage: StorageNow, site: Site | None) -> list[str]:
    """How much it is, how much there is room for, and until when that will do, if not for long."""
    lines = [_in_all_line(storage), _parts_line(storage), _readings_line(storage, site)]
    return [*lines, _full_line(storage, site)] if storage.full_soon else lines


def _in_all_line(storage: StorageNow) -> str:
    return (
        f"{size_words(storage.total)} in all, of the {size_words(storage.limit)} they may take up; "
        f"{size_words(storage.disk_free)} are free on the disk."
    )


def _parts_line(storage: StorageNow) -> str:
    free = (
        f" and {size_words(storage.free_inside)} free in it to be used again" if storage.free_inside else ""
    )
    return (
        f"The database {size_words(storage.database)}{free}, back-ups {size_words(storage.back_ups)}, "
        f"photos {size_words(storage.photos)}."
    )


def _readings_line(storage: StorageNow, site: Site | None) -> str:
    kept = (
        f"Readings are kept as they came for {storage.keep_readings_s / DAY_S:.0f} days, then as hourly means"
    )
    if storage.oldest_reading is None:
        return f"{kept}."
    return f"{kept}; the oldest as it came is from {_date(storage.oldest_reading, site)}."


def _full_line(storage: StorageNow, site: Site | None) -> str:
    assert storage.full_at is not None
    return f"At the rate of these days that is full about {_date(storage.full_at, site)}."


def _date(at: datetime, site: Site | None) -> str:
    return f"{long_day(at, site)} {local(at, site).year}"
