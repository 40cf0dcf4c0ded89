"""Instants as the database keeps them: always UTC, never without a time zone."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy import DateTime
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator

from service.clock import FIRST_YEAR, LAST_YEAR
from service.errors import BadInput
from service.voice import say


def in_utc(at: datetime) -> datetime:
    """The same instant in UTC. Raises BadInput for a time that does not say its zone, or whose year is a slip."""
    if at.utcoffset() is None:
        raise BadInput(
            "time_without_zone",
            say("The time {at:%Y-%m-%d %H:%M} does not say which time zone it is in.", at=at),
            say("Give it with its offset, such as 2026-03-02T14:20:00+01:00."),
            "at",
        )
    if not FIRST_YEAR <= at.year <= LAST_YEAR:
        raise BadInput(
            "year_wrong",
            say("The year {year} cannot be meant.", year=at.year),
            say("Write it in full, such as 2026."),
            "at",
        )
    return at.astimezone(UTC)


class UtcDateTime(TypeDecorator[datetime]):
    """A timestamp with time zone. SQLite has none, so it keeps the UTC time of day, to the microsecond."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        return None if value is None else in_utc(value)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)
