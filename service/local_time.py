"""Instants as the clock on the shop's wall shows them. All arithmetic is done in UTC; only the wording is local."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Literal
from zoneinfo import ZoneInfo, available_timezones

from babel.dates import get_day_names, get_month_names

from service.errors import BadInput
from service.listed import any_of
from service.records.shop_facts import Site
from service.units import Units
from service.voice import later, say, voice

WEEK = 7  # days within which a weekday alone says which day is meant


def zone_named(name: str) -> ZoneInfo:
    """The time zone with this IANA name. Raises BadInput `time_zone_unknown` with the nearest names."""
    try:
        return ZoneInfo(name)
    except (
        KeyError,
        ValueError,
        OSError,
    ) as error:  # KeyError: not found; the others: not a usable name at all
        near = difflib.get_close_matches(name, sorted(available_timezones()), n=2)
        meant = any_of(near)
        todo = (
            say("Did you mean {meant}?", meant=meant)
            if near
            else say("Write it like Europe/London or America/New_York.")
        )
        raise BadInput(
            "time_zone_unknown", say("“{name}” is not a time zone.", name=name), todo, "time_zone"
        ) from error


def zone_of(site: Site | None) -> tzinfo:
    """The shop's time zone; UTC as long as the shop has not said where it is."""
    return zone_named(site.time_zone) if site else UTC


def local(at: datetime, site: Site | None) -> datetime:
    """The instant `at` on the shop's clock."""
    return at.astimezone(zone_of(site))


def clock_time(at: datetime, site: Site | None, now: datetime) -> str:
    """``14:20`` today, ``Fri 14:20`` within a week, else ``12 Dec 14:20`` (with the year, if it is another).

    Where the clocks go back, the hour that comes twice carries the zone's letters: ``01:30 BST``.
    """
    there, here = local(at, site), local(now, site)
    return f"{_day(there.date(), here.date(), _units(site))}{_hour(there, site)}"


def date_and_time(at: datetime, site: Site | None, now: datetime) -> str:
    """``14:20`` today, else ``Fri 12 Dec 14:20``: for a day that may be last week's or next week's."""
    there = local(at, site)
    if there.date() == local(now, site).date():
        return _hour(there, site)
    weekday, date_, hour = _weekday(there), _date(there, _units(site)), _hour(there, site)
    return say("{weekday} {date} {hour}", weekday=weekday, date=date_, hour=hour)


def dated(at: datetime, site: Site | None, year: bool = False) -> str:
    """``12 Dec 14:20``, ``12 Dec 2025 14:20``: on a sheet that is read months later, whatever the day is today."""
    there = local(at, site)
    date_ = _date(there, _units(site), year)
    return f"{date_} {_hour(there, site)}"


def day_name(at: datetime, site: Site | None, now: datetime) -> str:
    """``today``, ``tomorrow``, ``yesterday``, ``Fri`` within a week, else ``12 Dec``."""
    day, today = local(at, site).date(), local(now, site).date()
    near = {-1: later("yesterday"), 0: later("today"), 1: later("tomorrow")}.get((day - today).days)
    return say(near) if near else _day(day, today, _units(site)).strip()


def long_day(at: datetime, site: Site | None) -> str:
    """``Friday 12 December``, in the United States ``Friday, December 12``."""
    there = local(at, site)
    weekday, month = names_of_days("wide")[there.weekday()], names_of_months("wide")[there.month]
    if _units(site) is Units.US:
        return say("{weekday}, {month} {day}", weekday=weekday, month=month, day=there.day)
    return say("{weekday} {day} {month}", weekday=weekday, day=there.day, month=month)


def whole_day(day: date) -> str:
    """``Friday 12 December 2025``."""
    weekday, month = names_of_days("wide")[day.weekday()], names_of_months("wide")[day.month]
    return say("{weekday} {day} {month} {year}", weekday=weekday, day=day.day, month=month, year=day.year)


def day_of_month(day: date) -> str:
    """``3 November 2024``."""
    month = names_of_months("wide")[day.month]
    return say("{day} {month} {year}", day=day.day, month=month, year=day.year)


def span(seconds: float) -> str:
    """A length of time as people say it: ``under a minute``, ``40 min``, ``2 h 10 min``, ``3 days 4 h``."""
    minutes = round(max(seconds, 0.0) / 60)
    if minutes < 1:
        return say("under a minute")
    if minutes < 60:
        return say("{minutes} min", minutes=minutes)
    if minutes < 48 * 60:
        hours, minutes = divmod(minutes, 60)
        return say("{hours} h {minutes} min", hours=hours, minutes=minutes) if minutes else f"{hours} h"
    days, hours = divmod(round(minutes / 60), 24)
    return say("{days} days {hours} h", days=days, hours=hours) if hours else say("{days} days", days=days)


def ago(seconds: float) -> str:
    """How old something is, full minutes only, so that nothing looks older than it is: ``40 min``."""
    return span(seconds // 60 * 60 if seconds < 48 * 3600 else seconds // 3600 * 3600)


def seconds_between(since: datetime, until: datetime) -> float:
    """How long from one instant to a later one; 0 if it is not later."""
    return max((until - since) / timedelta(seconds=1), 0.0)


def start_of_day(day: date, site: Site | None) -> datetime:
    """The UTC instant at which the local `day` begins."""
    return datetime.combine(day, time(), zone_of(site)).astimezone(UTC)


def midnights(since: datetime, until: datetime, site: Site | None) -> list[datetime]:
    """UTC instants at which a local day begins, from `since` up to, not including, `until`."""
    starts = (start_of_day(day, site) for day in _days(since, until, site))
    return [start for start in starts if since <= start < until]


def working_hours(since: datetime, until: datetime, site: Site) -> list[tuple[datetime, datetime]]:
    """The shop's working hours between two instants, as pairs of UTC instants, cut to the window."""
    spells = (_working_day(day, site) for day in _days(since, until, site))
    cut = ((max(start, since), min(end, until)) for start, end in spells)
    return [(start, end) for start, end in cut if start < end]


def hour_marks(since: datetime, until: datetime, site: Site | None, every: int = 1) -> list[datetime]:
    """UTC instants of the full local hours divisible by `every`, from `since` up to, not including, `until`."""
    mark = since.astimezone(UTC).replace(minute=0, second=0, microsecond=0)
    marks = []
    while mark < until:
        there = local(mark, site)
        if mark >= since and there.hour % every == 0 and there.minute == 0:
            marks.append(mark)
        mark += timedelta(minutes=15)  # zones lie a quarter, half or full hour apart
    return marks


def hour_mark(there: datetime, site: Site | None) -> str:
    """``14`` for a full hour on a line of hours, ``2`` where clocks show twelve; ``there`` is local."""
    return f"{there.hour % 12 or 12}" if _units(site) is Units.US else f"{there.hour}"


def day_mark(there: datetime) -> str:
    """``Sun`` where a day begins on such a line."""
    return _weekday(there)


def is_between(at: datetime, start: time, end: time, site: Site | None) -> bool:
    """Whether the shop's clock shows a time from `start` up to, not including, `end`; may run over midnight."""
    shown = local(at, site).time()
    return start <= shown < end if start <= end else shown >= start or shown < end


def _units(site: Site | None) -> Units:
    return voice().units or (site.units if site else Units.METRIC)


def _day(day: date, today: date, units: Units) -> str:
    if day == today:
        return ""
    if abs((day - today).days) < WEEK:
        return f"{_weekday(day)} "
    return f"{_date(day, units, day.year != today.year)} "


def names_of_days(width: Literal["abbreviated", "wide"]) -> Mapping[int, str]:
    """By Python's number of the day, 0 for Monday."""
    return get_day_names(width, locale=voice().language.value)


def names_of_months(width: Literal["abbreviated", "wide"]) -> Mapping[int, str]:
    """By the number of the month, from 1."""
    return get_month_names(width, locale=voice().language.value)


def _weekday(day: date) -> str:
    return names_of_days("abbreviated")[day.weekday()]


def _date(day: date, units: Units, year: bool = False) -> str:
    """``12 Dec``, ``Dec 12``, with its year where it is asked."""
    month = names_of_months("abbreviated")[day.month]
    told = (
        say("{month} {day}", month=month, day=day.day)
        if units is Units.US
        else say("{day} {month}", day=day.day, month=month)
    )
    return f"{told} {day.year}" if year else told


def _hour(there: datetime, site: Site | None) -> str:
    twice = there.replace(fold=0).utcoffset() > there.replace(fold=1).utcoffset()  # type: ignore[operator]
    letters = f" {there:%Z}" if twice or site is None else ""
    if _units(site) is Units.US:
        half = say("am") if there.hour < 12 else say("pm")
        return f"{there.hour % 12 or 12}:{there:%M} {half}{letters}"
    return f"{there:%H:%M}{letters}"


def _days(since: datetime, until: datetime, site: Site | None) -> Iterator[date]:
    day, last = local(since, site).date(), local(until, site).date()
    while day <= last:
        yield day
        day += timedelta(days=1)


def _working_day(day: date, site: Site) -> tuple[datetime, datetime]:
    return _at_hour(day, site.day_starts_hour, site), _at_hour(day, site.day_ends_hour, site)


def _at_hour(day: date, hour: int, site: Site) -> datetime:
    whole_days, hour = divmod(hour, 24)  # a day may end at 24
    return datetime.combine(day + timedelta(days=whole_days), time(hour), zone_of(site)).astimezone(UTC)
