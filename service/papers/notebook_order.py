"""Whether 3/11/2024 is in November or in March: decided once for a whole notebook, and said. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from service.errors import BadInput
from service.local_time import day_of_month
from service.papers.notebook_days import Written
from service.records.shop_facts import Site
from service.units import Units
from service.voice import later, say

EUROPEAN = (
    later("Europe/"),
    later("Africa/"),
    later("Australia/"),
    later("Pacific/Auckland"),
    later("Atlantic/"),
)


@dataclass(frozen=True, slots=True)
class Dated:
    """A day as written in one line, of one mould."""

    line: int
    mould: str
    day: Written


@dataclass(frozen=True, slots=True)
class Order:
    """Which way round, and why. No words: it never mattered."""

    day_first: bool
    words: str = ""


def order_of(days: Sequence[Dated], forced: bool | None, site: Site | None, today: date) -> Order:
    """forced: what a person said, if one did. Raises BadInput where nothing decides."""
    unclear = next((dated for dated in days if dated.day.both_ways), None)
    if unclear is None:
        return Order(forced if forced is not None else True)
    found = _said(forced) or _by_lines(days) or _by_order(days, today) or _by_site(site)
    if found is None:
        raise BadInput(
            "day_or_month_first",
            say(
                "Line {line} can be read as {day} or as {other}, and no other line says which.",
                line=unclear.line,
                day=_long(unclear.day.day_first),
                other=_long(unclear.day.month_first),
            ),
            say("Say which: --day-first or --month-first, or choose it on the page."),
            "order",
        )
    day_first, why = found
    example = _long(unclear.day.day(day_first))
    return Order(
        day_first,
        say("Line {line} is read as {example}, {why}.", line=unclear.line, example=example, why=why),
    )


Found = tuple[bool, str] | None


def _said(forced: bool | None) -> Found:
    return None if forced is None else (forced, say("as you said"))


def _by_lines(days: Sequence[Dated]) -> Found:
    """By a day that can only be read one way. Raises BadInput where lines say both."""
    telling = [dated for dated in days if dated.day.told]
    if not telling:
        return None
    first = telling[0]
    other = next((d for d in telling if (d.day.day_first is None) != (first.day.day_first is None)), None)
    if other is not None:
        raise BadInput(
            "days_both_ways",
            say(
                "Line {line} puts {which} first, line {other_line} {other}.",
                line=first.line,
                which=_which(first),
                other_line=other.line,
                other=_which(other),
            ),
            say("Write all days the same way, best like 2024-11-03; or say --day-first or --month-first."),
            "order",
        )
    why = say("because line {line} puts {which} first", line=first.line, which=_which(first))
    return first.day.day_first is not None, why


def _which(dated: Dated) -> str:
    return say("the month") if dated.day.day_first is None else say("the day")


def _by_order(days: Sequence[Dated], today: date) -> Found:
    """By the reading in which no day is to come and no mould's lines jump back and forth."""
    wrong = {way: _jumps(days, way) + _to_come(days, way, today) for way in (True, False)}
    if (wrong[True] == 0) == (wrong[False] == 0):
        return None
    return wrong[True] == 0, say("because the lines would be out of order otherwise")


def _to_come(days: Sequence[Dated], day_first: bool, today: date) -> int:
    return sum((day := dated.day.day(day_first)) is not None and day > today for dated in days)


def _jumps(days: Sequence[Dated], day_first: bool) -> int:
    """How often a mould's lines turn round: none where they run on, or all the way back."""
    moulds: dict[str, list[date]] = {}
    for dated in days:
        if (day := dated.day.day(day_first)) is not None:
            moulds.setdefault(dated.mould, []).append(day)
    return sum(_turns(own) for own in moulds.values())


def _turns(days: Sequence[date]) -> int:
    back = sum(later < earlier for earlier, later in pairwise(days))
    forth = sum(later > earlier for earlier, later in pairwise(days))
    return min(back, forth)


def _by_site(site: Site | None) -> Found:
    if site is None:
        return None
    if site.units is Units.US:
        return False, say("as is usual with your units")
    if site.time_zone.startswith(EUROPEAN):
        return True, say("as is usual in {time_zone}", time_zone=site.time_zone)
    return None


def _long(day: date | None) -> str:
    return day_of_month(day) if day else say("no day")
