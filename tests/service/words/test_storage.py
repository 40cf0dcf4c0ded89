"""What the records take up, in sentences."""

from __future__ import annotations

from datetime import timedelta

from service.words.storage import storage_lines
from tests.service.room.cases import SITE, T0
from tests.service.test_storage import GB, now


def test_how_much_and_of_how_much() -> None:
    lines = storage_lines(now(), SITE)
    assert lines[0] == "3.4 GB in all, of the 12.0 GB they may take up; 10.0 GB are free on the disk."
    assert lines[1] == "The database 250 MB, back-ups 3.0 GB, photos 100 MB."
    assert lines[2] == "Readings are kept as they came for 400 days, then as hourly means."
    assert len(lines) == 3


def test_what_is_free_inside_is_told_as_such() -> None:
    lines = storage_lines(now(free_inside=20_000_000), SITE)
    assert "The database 250 MB and 20 MB free in it to be used again, back-ups" in lines[1]


def test_since_when_there_are_readings() -> None:
    lines = storage_lines(now(oldest_reading=T0 - timedelta(days=3)), SITE)
    assert lines[2].endswith("the oldest as it came is from Friday 27 February 2026.")


def test_full_soon_to_the_instant() -> None:
    soon = now(full_at=T0 + timedelta(days=90), back_ups=GB)
    assert storage_lines(soon, SITE)[-1] == "At the rate of these days that is full about Sunday 31 May 2026."
    later = now(full_at=T0 + timedelta(days=90, microseconds=1))
    assert len(storage_lines(later, SITE)) == 3
    assert len(storage_lines(now(full_at=None), SITE)) == 3
