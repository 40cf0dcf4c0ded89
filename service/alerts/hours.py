"""When somebody may be rung: working hours by the day of the week, days off, quiet hours. By the shop's clock."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Annotated, NamedTuple

from pydantic import BeforeValidator

from service.errors import BadInput
from service.local_time import local
from service.records.shop_facts import Site

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
DAY_S = 86400
SHORTEST_S = 900
"""No spell is shorter, so that looking every quarter of an hour finds each."""
STEP = timedelta(seconds=SHORTEST_S)
SECOND = timedelta(seconds=1)
LOOKED_AHEAD = timedelta(days=40)
SPELL = re.compile(r"(?P<hours>\d{1,2}:\d{2}\s*-\s*\d{1,2}:\d{2})$")


class Hours(NamedTuple):
    """From where to where on the clock; `end` may be before `start`, then it runs over midnight. Seconds of the day."""

    start_s: int
    end_s: int

    def hold(self, second: int) -> bool:
        """Whether this second of the day lies within, its end left out."""
        if self.start_s <= self.end_s:
            return self.start_s <= second < self.end_s
        return second >= self.start_s or second < self.end_s


class Works(NamedTuple):
    """Working hours on some days of the week; 0 is Monday. Over midnight they belong to the day they begin on."""

    days: frozenset[int]
    hours: Hours

    def hold(self, weekday: int, second: int) -> bool:
        """Whether they hold at this second of this day of the week."""
        start_s, end_s = self.hours
        if start_s <= end_s:
            return weekday in self.days and start_s <= second < end_s
        yesterday = (weekday - 1) % 7
        return (weekday in self.days and second >= start_s) or (yesterday in self.days and second < end_s)


class DaysOff(NamedTuple):
    """Whole days by the calendar, both ends within."""

    first: date
    last: date


def read_hours(text: str) -> Hours:
    """``22:00-06:30``. Raises BadInput."""
    parts = re.fullmatch(r"\s*(\d{1,2}:\d{2})\s*-\s*(\d{1,2}:\d{2})\s*", text)
    if parts is None:
        raise BadInput("hours_wrong", f"“{text}” is not a span of hours.", 'Write it like "22:00-06:30".')
    hours = Hours(_second(parts[1]), _second(parts[2]))
    if (hours.end_s - hours.start_s) % DAY_S < SHORTEST_S:
        raise BadInput("hours_wrong", f"“{text}” is too short.", "Leave a quarter of an hour at least.")
    return hours


def read_works(text: str) -> Works:
    """``Mon-Fri 07:00-17:00``, ``Sat 08:00-12:00``, ``Mon, Wed 07:00-12:00``. Raises BadInput."""
    found = SPELL.search(text.strip())
    if found is None:
        raise BadInput(
            "hours_wrong", f"“{text}” names no working hours.", 'Write them like "Mon-Fri 07:00-17:00".'
        )
    days = text.strip()[: found.start()].strip()
    return Works(_days(days) if days else frozenset(range(7)), read_hours(found["hours"]))


def read_days_off(text: str) -> DaysOff:
    """``2026-12-24``, or ``2026-12-24 to 2027-01-02``. Raises BadInput."""
    try:
        parts = [date.fromisoformat(part.strip()) for part in re.split(r"\bto\b", text)]
        first, last = parts[0], parts[-1]
        if len(parts) > 2 or last < first:
            raise ValueError
    except ValueError as error:
        raise BadInput(
            "day_wrong", f"“{text}” is no day off.", 'Write it like "2026-12-24 to 2027-01-02".'
        ) from error
    return DaysOff(first, last)


def next_change(
    holds: Callable[[datetime], bool], at: datetime, within: timedelta = LOOKED_AHEAD
) -> datetime | None:
    """The first instant after `at`, to the second, at which `holds` is no longer what it is at `at`. UTC arithmetic.

    Spells shorter than a quarter of an hour may be passed over. None: no change within that time.
    """
    now, end, before = holds(at), at + within, at
    while before < end:
        after = before + STEP
        if holds(after) != now:
            return _exactly(holds, before, after, now)
        before = after
    return None


def second_of_day(at: datetime, site: Site | None) -> int:
    """How many seconds the shop's clock shows past its midnight."""
    shown = local(at, site)
    return shown.hour * 3600 + shown.minute * 60 + shown.second


def _exactly(holds: Callable[[datetime], bool], before: datetime, after: datetime, now: bool) -> datetime:
    while after - before > SECOND:
        middle = before + (after - before) // 2
        if holds(middle) == now:
            before = middle
        else:
            after = middle
    # clocks change at whole seconds, so the second that was passed last is the one
    return after.replace(microsecond=0) if after.replace(microsecond=0) > before else after


def _second(text: str) -> int:
    hour, minute = (int(part) for part in text.split(":"))
    if hour > 24 or minute > 59 or (hour == 24 and minute):
        raise BadInput("hours_wrong", f"“{text}” is not a time of day.", 'Write it like "22:00".')
    return hour * 3600 + minute * 60


def _days(text: str) -> frozenset[int]:
    days: set[int] = set()
    for part in re.split(r"\s*,\s*", text):
        ends = [_day(name) for name in re.split(r"\s*-\s*", part)]
        first, last = ends[0], ends[-1]
        days |= {(first + step) % 7 for step in range((last - first) % 7 + 1)}
    return frozenset(days)


def _day(name: str) -> int:
    found = [
        number for number, day in enumerate(DAYS) if len(name) >= 3 and name.lower().startswith(day.lower())
    ]
    if not found:
        raise BadInput("day_wrong", f"“{name}” is not a day of the week.", f"Write {', '.join(DAYS)}.")
    return found[0]


def not_a_number(written: object) -> object:
    """What was written, unless it is a number. Raises BadInput: TOML reads 22 as a number of something."""
    if isinstance(written, int | float):
        raise BadInput(
            "hours_wrong", f"“{written}” is not a span of hours.", 'Write it in quotes, like "22:00-06:30".'
        )
    return written


def _works(written: object) -> object:
    return read_works(written) if isinstance(written, str) else not_a_number(written)


def _days_off(written: object) -> object:
    if isinstance(written, date):  # TOML knows days of its own
        return DaysOff(written, written)
    return read_days_off(written) if isinstance(written, str) else not_a_number(written)


WorksText = Annotated[Works, BeforeValidator(_works)]
DaysOffText = Annotated[DaysOff, BeforeValidator(_days_off)]
