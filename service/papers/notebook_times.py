"""The lines of one mould in order, each with an instant: its hour as written, or else one within its day. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from service.errors import BadInput, ShopError
from service.local_time import local, start_of_day, zone_of
from service.papers.notebook_days import instant
from service.papers.notebook_lines import Fault, Line
from service.papers.notebook_words import CoatWord
from service.records.shop_facts import Site
from service.voice import say

NOON = time(12)
APART = timedelta(minutes=1)
"""Lines of a day without hours stand so far apart, only to keep their order."""


@dataclass(frozen=True, slots=True)
class Clock:
    """What days and hours of a notebook are held against. `hours`: whether its hours are more than empty midnights."""

    site: Site | None
    now: datetime
    day_first: bool
    hours: bool


@dataclass(frozen=True, slots=True)
class Timed:
    """A line with its instant. `day_only`: the hour is ours."""

    line: Line
    at: datetime
    day_only: bool


@dataclass(frozen=True, slots=True)
class _Placed:
    """A line, its day, and its instant where the hour is written."""

    line: Line
    day: date
    at: datetime | None


def timed(lines: Sequence[Line], clock: Clock) -> tuple[list[Timed], list[Fault]]:
    """The lines by time; those that cannot be where they stand are left out and told."""
    placed, faults = list[_Placed](), list[Fault]()
    for line in lines:
        try:
            placed.append(_placed(line, clock))
        except ShopError as error:
            faults.append(fault(line, error))
    found = list[Timed]()
    placed = _in_order(placed)
    for index, one in enumerate(placed):
        try:
            found.append(_timed(one, found[-1] if found else None, placed[index + 1 :], clock))
        except ShopError as error:
            faults.append(fault(one.line, error))
    return found, faults


def fault(line: Line, error: ShopError) -> Fault:
    """What is wrong with a line; what it says is filled in by whoever knows."""
    return Fault(line.number, "", error.message, error.todo, line.mould)


def _placed(line: Line, clock: Clock) -> _Placed:
    day = line.day.day(clock.day_first)
    if day is None:
        raise BadInput(
            "not_a_day", say("That is not a day."), say("Write it with its year, such as 2024-11-03."), "date"
        )
    written = line.day.clock if clock.hours else None
    at = instant(day, written, line.day.zone or zone_of(clock.site)) if written else None
    if day > local(clock.now, clock.site).date() or (at is not None and at > clock.now):
        raise BadInput("day_to_come", say("That time has not come yet."), say("Look at the date."), "date")
    return _Placed(line, day, at)


def _in_order(placed: Sequence[_Placed]) -> list[_Placed]:
    """By day; within a day as they stand in the file, from below where the notebook runs backwards."""
    backwards = len(placed) > 1 and placed[-1].day < placed[0].day
    standing = list(reversed(placed)) if backwards else list(placed)
    days: dict[date, list[_Placed]] = {}
    for one in sorted(standing, key=lambda p: p.day):
        days.setdefault(one.day, []).append(one)
    return [one for own in days.values() for one in _day_in_order(own)]


def _day_in_order(own: list[_Placed]) -> list[_Placed]:
    """By the hour where all are written; else by the number of the coat where all have one."""
    hours = [one.at for one in own if one.at is not None]
    if len(hours) == len(own):
        return [own[n] for _, n in sorted((at, n) for n, at in enumerate(hours))]
    numbers = [
        one.line.done.number for one in own if isinstance(one.line.done, CoatWord) and one.line.done.number
    ]
    if len(numbers) == len(own):
        return [own[n] for _, n in sorted((number, n) for n, number in enumerate(numbers))]
    return own


def _timed(one: _Placed, before: Timed | None, after: Sequence[_Placed], clock: Clock) -> Timed:
    if one.at is not None:
        if before is not None and one.at < before.at:
            raise BadInput(
                "line_before_previous",
                say(
                    "It is earlier than line {number}, which stands before it on that day.",
                    number=before.line.number,
                ),
                say("Look at both hours."),
                "date",
            )
        return Timed(one.line, one.at, False)
    earliest = start_of_day(one.day, clock.site)
    if before is not None:
        earliest = max(earliest, before.at + APART)
    latest = _latest(one.day, after, clock)
    noon = instant(one.day, NOON, zone_of(clock.site))
    at = max(min(max(noon, earliest), latest), earliest)
    if at > clock.now:
        raise BadInput(
            "day_full",
            say("There is no time left on that day for what stands in this line."),
            say("Write the hour with each line of that day."),
            "date",
        )
    return Timed(one.line, at, True)


def _latest(day: date, after: Sequence[_Placed], clock: Clock) -> datetime:
    """The last minute of the day, or before the next line of it that has its hour, with room for those between."""
    for between, one in enumerate(after, 1):
        if one.day == day and one.at is not None:
            return min(one.at - APART * between, clock.now)
    rest = sum(one.day == day for one in after) + 1
    ends = min(start_of_day(day + timedelta(days=1), clock.site), clock.now + APART)
    return ends - APART * rest
