"""When somebody may be rung: working hours by the day of the week, days off, quiet hours. By the shop's clock."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from typing import Annotated, NamedTuple
from unicodedata import combining, normalize

from babel.dates import get_day_names
from pydantic import BeforeValidator

from service.errors import BadInput
from service.local_time import local, zone_of
from service.records.shop_facts import Site
from service.voice import Language, say

DAYS = (
    "Monday",
    "Tuesday",
    "Wednesday",
    "Thursday",
    "Friday",
    "Saturday",
    "Sunday",
)
DAY_S = 86400
SHORTEST_S = 900
"""Whatever is shorter is a slip of the pen."""
SECOND = timedelta(seconds=1)
DAY = timedelta(days=1)
LOOKED_AHEAD = timedelta(days=40)
DASH = r"\s*[-\u2013]\s*"  # people write the long one too
SPAN = re.compile(rf"\s*(\d{{1,2}}:\d{{2}}){DASH}(\d{{1,2}}:\d{{2}})\s*")
SPELL = re.compile(rf"(?P<days>.*?)(?P<hours>\d{{1,2}}:\d{{2}}{DASH}\d{{1,2}}:\d{{2}})\s*")


class Hours(NamedTuple):
    """From where to where on the clock; `end` may be before `start`, then it runs over midnight. Seconds of the day.

    An hour that comes twice counts both times, one that is left out not at all.
    """

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

    def begun(self, there: datetime) -> date | None:
        """The day on which the spell began that runs at this time on the shop's clock. None: none runs."""
        day, second = there.date(), _seconds_past_midnight(there)
        start_s, end_s = self.hours
        if day.weekday() in self.days and start_s <= second and (second < end_s or end_s < start_s):
            return day
        before = day - DAY
        return before if end_s < start_s and before.weekday() in self.days and second < end_s else None


class DaysOff(NamedTuple):
    """Whole days by the calendar, both ends within."""

    first: date
    last: date


def read_hours(text: str) -> Hours:
    """``22:00-06:30``. Raises BadInput."""
    parts = SPAN.fullmatch(text)
    if parts is None:
        raise BadInput(
            "hours_wrong",
            say("“{text}” is not a span of hours.", text=text),
            say('Write it like "22:00-06:30".'),
        )
    start_s, end_s = _second(parts[1]), _second(parts[2])
    lasts_s = end_s - start_s if end_s > start_s else (end_s - start_s) % DAY_S
    if lasts_s < SHORTEST_S:
        raise BadInput(
            "hours_wrong",
            say("“{text}” is too short.", text=text),
            say("Leave a quarter of an hour at least."),
        )
    return Hours(start_s, end_s)


def read_works(text: str) -> Works:
    """``Mon-Fri 07:00-17:00``, ``Sat 08:00-12:00``, ``Mon, Wed 07:00-12:00``. Raises BadInput."""
    found = SPELL.fullmatch(text)
    if found is None:
        raise BadInput(
            "hours_wrong",
            say("“{text}” names no working hours.", text=text),
            say('Write them like "Mon-Fri 07:00-17:00".'),
        )
    days = found["days"].strip()
    return Works(_days(days) if days else frozenset(range(7)), read_hours(found["hours"]))


def read_days_off(text: str) -> DaysOff:
    """``2026-12-24``, or ``2026-12-24 to 2027-01-02``. Raises BadInput."""
    try:
        parts = [date.fromisoformat(part.strip()) for part in re.split(r"\b(?:to|a)\b", text)]
        first, last = parts[0], parts[-1]
        if len(parts) > 2 or last < first:
            raise ValueError
    except ValueError as error:
        raise BadInput(
            "day_wrong",
            say("“{text}” is no day off.", text=text),
            say('Write it like "2026-12-24 to 2027-01-02".'),
        ) from error
    return DaysOff(first, last)


def clock_reaches(
    marks: Iterable[int], at: datetime, site: Site | None, within: timedelta = LOOKED_AHEAD
) -> Iterator[datetime]:
    """When, after `at`, the shop's clock next comes to one of these seconds of the day, or jumps; earliest first.

    Whatever hangs on those marks alone can change at no other instant. UTC.
    """
    day, last = local(at, site).date() - DAY, local(at + within, site).date()
    wanted = set(marks)
    while day <= last:
        found = {*_instants(day, wanted, site), *_jumps(day, site)}
        yield from sorted(instant for instant in found if at < instant <= at + within)
        day += DAY


def second_of_day(at: datetime, site: Site | None) -> int:
    """How many seconds the shop's clock shows past its midnight."""
    return _seconds_past_midnight(local(at, site))


def _seconds_past_midnight(there: datetime) -> int:
    return there.hour * 3600 + there.minute * 60 + there.second


def _instants(day: date, marks: Iterable[int], site: Site | None) -> Iterator[datetime]:
    """When the clock shows these on that day: twice where it is put back; of a time left out, the time around it."""
    for mark in marks:
        there = datetime.combine(day, time(), zone_of(site)) + timedelta(seconds=mark)  # on the clock's face
        if there.date() == day:
            yield from {there.replace(fold=fold).astimezone(UTC) for fold in (0, 1)}


def _jumps(day: date, site: Site | None) -> list[datetime]:
    """When the clock is put forward or back on that day, to the second."""
    early = datetime.combine(day, time(), zone_of(site)).astimezone(UTC)
    late = datetime.combine(day + DAY, time(), zone_of(site)).astimezone(UTC)
    before = local(early, site).utcoffset()
    if before == local(late, site).utcoffset():
        return []
    while late - early > SECOND:
        middle = early + (late - early) // 2
        early, late = (middle, late) if local(middle, site).utcoffset() == before else (early, middle)
    return [late.replace(microsecond=0)]


def _second(text: str) -> int:
    hour, minute = (int(part) for part in text.split(":"))
    if hour > 24 or minute > 59 or (hour == 24 and minute):
        raise BadInput(
            "hours_wrong", say("“{text}” is not a time of day.", text=text), say('Write it like "22:00".')
        )
    return hour * 3600 + minute * 60


def _days(text: str) -> frozenset[int]:
    days: set[int] = set()
    for part in re.split(r"\s*,\s*", text):
        ends = [_day(name) for name in re.split(DASH, part)]
        if len(ends) > 2:
            raise BadInput(
                "day_wrong",
                say("“{part}” has more than two ends.", part=part),
                say('Write it like "Mon-Fri".'),
            )
        first, last = ends[0], ends[-1]
        days |= {(first + step) % 7 for step in range((last - first) % 7 + 1)}
    return frozenset(days)


def _day(name: str) -> int:
    read = _plain(name)
    found = [n for days in day_names() for n, day in enumerate(days) if _plain(day).startswith(read)]
    if not found or len(read) < 3:
        short = ", ".join(day[:3] for day in DAYS)
        raise BadInput(
            "day_wrong",
            say("“{name}” is not a day of the week.", name=name),
            say("Write {short}.", short=short),
        )
    return found[0]


@cache
def day_names() -> tuple[tuple[str, ...], ...]:
    """Monday to Sunday in every language coatbell speaks; no beginning of three letters stands for two days."""
    wide = (get_day_names("wide", locale=language.value) for language in Language)
    return tuple(tuple(names[n] for n in range(len(DAYS))) for names in wide)


def _plain(word: str) -> str:
    """Without accents, as it is typed in a hurry."""
    return "".join(c for c in normalize("NFKD", word.casefold()) if not combining(c))


def only_text(written: object) -> object:
    """What was written, unless it is of TOML's other types. Raises BadInput: 22 would be a number of something."""
    if isinstance(written, int | float | time | date | list | dict):
        raise BadInput(
            "hours_wrong",
            say("“{written}” is not a span of hours.", written=written),
            say('Write it in quotes, like "22:00-06:30".'),
        )
    return written


def _works(written: object) -> object:
    return read_works(written) if isinstance(written, str) else only_text(written)


def _days_off(written: object) -> object:
    if isinstance(written, datetime):
        raise BadInput(
            "day_wrong",
            say("“{written}” is no whole day.", written=written),
            say('Write it like "2026-12-24".'),
        )
    if isinstance(written, date):  # TOML knows days of its own
        return DaysOff(written, written)
    return read_days_off(written) if isinstance(written, str) else only_text(written)


WorksText = Annotated[Works, BeforeValidator(_works)]
DaysOffText = Annotated[DaysOff, BeforeValidator(_days_off)]
