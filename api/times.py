"""Times as people write them: local clock times of the shop to UTC instants."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from service.clock import FIRST_YEAR, LAST_YEAR
from service.errors import BadInput
from service.local_time import local, working_hours, zone_of
from service.records.shop_facts import Site
from service.voice import say

LONGEST_AGO_S = 7 * 24 * 3600


def from_clock(text: str, site: Site | None, now: datetime, field: str = "at") -> datetime:
    """``"2025-12-12T14:20"`` on the shop's clock as a UTC instant.

    The hour that comes twice in autumn is taken as its later pass unless that lies after `now`. The hour that
    spring leaves out is refused.
    """
    try:
        written = datetime.fromisoformat(text)
    except ValueError as error:
        raise BadInput(
            "not_a_time",
            say("“{text}” is not a date and time.", text=text),
            say("Write it like 2025-12-12 14:20."),
            field,
        ) from error
    if not FIRST_YEAR <= written.year <= LAST_YEAR:
        raise BadInput(
            "year_wrong",
            say("The year {year} cannot be meant.", year=written.year),
            say("Write it in full, such as 2026."),
            field,
        )
    if written.tzinfo is not None:
        return written.astimezone(UTC)
    later, earlier = (written.replace(tzinfo=zone_of(site), fold=fold).astimezone(UTC) for fold in (1, 0))
    if local(earlier, site).replace(tzinfo=None) != written:
        raise BadInput(
            "hour_left_out",
            say("There was no {written:%H:%M} that night: clocks went forward.", written=written),
            say("Take an hour later."),
            field,
        )
    return earlier if later > now else later


def when(ago: str, at: str, site: Site | None, now: datetime) -> datetime | None:
    """From the two inputs of a form: `at`, a clock time, wins over `ago`, minutes; None: just now."""
    if at.strip():
        return from_clock(at.strip(), site, now)
    if not ago.strip():
        return None
    try:
        seconds = float(ago) * 60
    except ValueError as error:
        raise BadInput(
            "not_minutes",
            say("“{ago}” is not a number of minutes.", ago=ago),
            say("Choose one of the list."),
            "ago",
        ) from error
    if not 0 <= seconds <= LONGEST_AGO_S:
        raise BadInput(
            "not_minutes",
            say("“{ago}” minutes ago is too far off.", ago=ago),
            say("Give the date and time instead."),
            "ago",
        )
    return now - timedelta(seconds=seconds) if seconds else None


def nights(start: datetime, end: datetime, site: Site | None) -> list[tuple[datetime, datetime]]:
    """When nobody works between two instants. A shop that has not said its hours has none."""
    if site is None:
        return []
    spells = working_hours(start, end, site)
    opens = [start, *(ended for _, ended in spells)]
    closes = [*(began for began, _ in spells), end]
    return [(a, b) for a, b in zip(opens, closes, strict=True) if a < b]


def is_night(at: datetime, site: Site | None) -> bool:
    """Whether it is outside the shop's working hours."""
    return bool(nights(at, at + timedelta(microseconds=1), site))
