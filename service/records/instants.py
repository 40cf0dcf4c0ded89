"""Instants as whole microseconds since 1970, where there are millions of them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from service.records.utc import in_utc

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MICROSECOND = timedelta(microseconds=1)
FIVE_MINUTES_US = 300_000_000
HOUR_US = 12 * FIVE_MINUTES_US


def to_us(at: datetime) -> int:
    """Exact. Raises BadInput for a time that does not say its zone, or whose year is a slip."""
    return (in_utc(at) - EPOCH) // MICROSECOND


def from_us(at_us: int) -> datetime:
    return EPOCH + at_us * MICROSECOND
