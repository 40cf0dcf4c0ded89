"""Days and hours as people wrote them, and which way round day and month stand. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo

from service.clock import FIRST_YEAR
from service.errors import BadInput
from service.voice import say

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
LONG = (
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
)
WEEKDAY = re.compile(r"(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,?\s+", re.I | re.A)
ISO = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})(?!\d)", re.A)
TIGHT = re.compile(r"((?:19|20)\d\d)(\d\d)(\d\d)(?!\d)", re.A)
DOTTED = re.compile(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4}|\d{2})(?!\d)", re.A)
NUMBERS = re.compile(r"(\d{1,2})([-/])(\d{1,2})\2(\d{4}|\d{2})(?!\d)", re.A)
DAY_WORD = re.compile(
    r"(\d{1,2})(?:st|nd|rd|th|\.)?[ -]*(?:of )?([a-z]{3,9})\.?,?[ -]*(\d{4}|\d{2})(?!\d)", re.I | re.A
)
WORD_DAY = re.compile(r"([a-z]{3,9})\.?[ -]*(\d{1,2})(?:st|nd|rd|th)?,?[ -]+(\d{4}|\d{2})(?!\d)", re.I | re.A)
CLOCK = re.compile(
    r"(?:t|,|at)?\s*(\d{1,2})(?:[:.h](\d{2}))?(?:[:.](\d{2})(?:\.\d+)?)?\s*"
    r"(?:([ap])\.?m\.?)?\s*(z|utc|[+-]\d{2}:?\d{2})?",
    re.I | re.A,
)
SERIAL = re.compile(r"\d{5}(?:\.\d+)?", re.A)
LONGEST = 60


@dataclass(frozen=True, slots=True)
class Written:
    """A day as it was written. Both readings are the same where it can be read in one way only, unless one is None.

    told: whether this day alone says which way round its writer puts day and month.
    """

    day_first: date | None
    month_first: date | None
    clock: time | None = None
    zone: tzinfo | None = None
    told: bool = False

    @property
    def both_ways(self) -> bool:
        return self.day_first != self.month_first and not self.told

    def day(self, day_first: bool) -> date | None:
        """Read one way; the other, where it can be read in no other way."""
        one, other = (self.day_first, self.month_first) if day_first else (self.month_first, self.day_first)
        return other if one is None else one


def written(text: str, clock: str, this_year: int) -> Written:
    """What a cell says, with the cell of its hour, if there is one. Raises BadInput."""
    told = text.strip()
    if not told:
        raise BadInput(
            "day_missing",
            say("There is no date."),
            say("Write the day it was done, such as 2024-11-03."),
            "date",
        )
    if SERIAL.fullmatch(told):
        raise BadInput(
            "day_counted",
            say("“{told}” is how a spreadsheet counts days.", told=told),
            say("Give the column the format of a date there, and save the file again."),
            "date",
        )
    days, end = _days(told, this_year) if len(told) <= LONGEST else (None, 0)
    if days is None or days == (None, None):
        raise BadInput(
            "not_a_day",
            say("“{told}” is not a day.", told=told[:LONGEST]),
            say("Write it with its year, such as 2024-11-03."),
            "date",
        )
    hour, zone = _hour(" ".join(part for part in (told[end:].strip(), clock.strip()) if part))
    return Written(*days, hour, zone, told=None in days)


Days = tuple[date | None, date | None]


def _days(text: str, this_year: int) -> tuple[Days | None, int]:
    """Both readings of the day at the start of a text, and where it ends."""
    weekday = WEEKDAY.match(text)
    begins = weekday.end() if weekday else 0
    for pattern, read in (
        (ISO, _iso),
        (TIGHT, _tight),
        (DOTTED, _dotted),
        (DAY_WORD, _day_word),
        (WORD_DAY, _word_day),
    ):
        if found := pattern.match(text, begins):
            day = read(found, this_year)
            return ((day, day) if day else None), found.end()
    if found := NUMBERS.match(text, begins):
        one, other, year = int(found[1]), int(found[3]), _year(found[4], this_year)
        return (_day(year, other, one), _day(year, one, other)), found.end()
    return None, 0


def _iso(found: re.Match[str], _: int) -> date | None:
    return _day(int(found[1]), int(found[3]), int(found[4]))


def _tight(found: re.Match[str], _: int) -> date | None:
    return _day(int(found[1]), int(found[2]), int(found[3]))


def _dotted(found: re.Match[str], this_year: int) -> date | None:
    """With dots the day always stands first."""
    return _day(_year(found[3], this_year), int(found[2]), int(found[1]))


def _day_word(found: re.Match[str], this_year: int) -> date | None:
    return _day(_year(found[3], this_year), _month(found[2]), int(found[1]))


def _word_day(found: re.Match[str], this_year: int) -> date | None:
    return _day(_year(found[3], this_year), _month(found[1]), int(found[2]))


def _month(word: str) -> int:
    """0 for what is none."""
    low = word.lower()
    fits = [
        n
        for n, (short, long) in enumerate(zip(MONTHS, LONG, strict=True), 1)
        if long.startswith(low) and low[:3] == short
    ]
    return fits[0] if fits else 9 if low == "sept" else 0


def _year(text: str, this_year: int) -> int:
    """Of two digits, the last such year that is not to come."""
    if len(text) == 4:
        return int(text)
    year = this_year // 100 * 100 + int(text)
    return year if year <= this_year else year - 100


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day) if year >= FIRST_YEAR else None
    except ValueError:
        return None


def _hour(text: str) -> tuple[time | None, tzinfo | None]:
    """The hour in the rest of a cell; None where there is none. Raises BadInput."""
    if not text:
        return None, None
    found = CLOCK.fullmatch(text)
    hour = _clock(found) if found else None
    if found is None or hour is None:
        raise BadInput(
            "not_an_hour",
            say("“{text}” is not a time of day.", text=text[:LONGEST]),
            say("Write it like 14:20."),
            "date",
        )
    return hour, _zone(found[5])


def _clock(found: re.Match[str]) -> time | None:
    hour, half = int(found[1]), (found[4] or "").lower()
    if (found[2] is None and not half) or (half and not 1 <= hour <= 12):
        return None
    hour = hour % 12 + (12 if half == "p" else 0) if half else hour
    try:
        return time(hour, int(found[2] or 0), int(found[3] or 0))
    except ValueError:
        return None


def _zone(text: str | None) -> tzinfo | None:
    if not text:
        return None
    if text.lower() in ("z", "utc"):
        return UTC
    minutes = int(text[1:3]) * 60 + int(text[-2:])
    if minutes >= 24 * 60:
        raise BadInput(
            "not_an_hour",
            say("“{text}” is no time zone.", text=text),
            say("Write it like +01:00, or leave it out."),
            "date",
        )
    return timezone(timedelta(minutes=-minutes if text[0] == "-" else minutes))


def instant(day: date, clock: time, zone: tzinfo) -> datetime:
    """An hour of a day on a clock, in UTC. Raises BadInput for the hour that spring leaves out."""
    there = datetime.combine(day, clock, zone)
    at = there.astimezone(UTC)
    if at.astimezone(zone).replace(tzinfo=None) != there.replace(tzinfo=None):
        raise BadInput(
            "hour_left_out",
            say("There was no {clock:%H:%M} that night: clocks went forward.", clock=clock),
            say("Write it an hour later."),
            "date",
        )
    return at
