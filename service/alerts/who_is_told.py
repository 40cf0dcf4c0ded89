"""Who is told of what, when, and by which ways: in words, without any address. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from service.alerts.hours import DAYS, DaysOff, Hours, Works
from service.alerts.people import Person, Place
from service.alerts.rules import AlertRules
from service.alerts.ways import Way
from service.records.ways_store import WayOff


@dataclass(frozen=True, slots=True)
class WayNow:
    """One way. off_since: it refused for good, and is not used. words: what it said then."""

    name: str
    off_since: datetime | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class WhoIsTold:
    """One person or place, as the page of messages shows it."""

    name: str
    what: str
    when: str
    ways: tuple[WayNow, ...]


def who_is_told(
    rules: AlertRules, ways: Sequence[Way], off: Iterable[WayOff], today: date
) -> list[WhoIsTold]:
    """Everybody and every place, in the order of alerts.toml."""
    refused = {(row.recipient, row.mark): row for row in off}
    return [
        WhoIsTold(
            r.name,
            "everything" if r.kinds is None else ", ".join(r.kinds) or "nothing",
            _person_when(r, rules, today) if isinstance(r, Person) else _place_when(r, rules),
            tuple(_way_now(way, refused) for way in ways if way.recipient == r.name),
        )
        for r in rules.recipients
    ]


def _way_now(way: Way, refused: dict[tuple[str, str], WayOff]) -> WayNow:
    row = refused.get((way.recipient, way.mark))
    return WayNow(way.name) if row is None else WayNow(way.name, row.since, row.words)


def _place_when(place: Place, rules: AlertRules) -> str:
    quiet = rules.quiet_hours.hours if place.quiet else None
    return "at once" if quiet is None else f"at once; {_quiet(quiet)}"


def _person_when(person: Person, rules: AlertRules, today: date) -> str:
    quiet = rules.quiet_hours.hours if person.quiet is None else person.quiet
    parts = [
        "told first" if person.turn == 1 else f"turn {person.turn}, if nobody before picks up",
        "at work " + ", ".join(map(_works, person.works)) if person.works else "at work at any hour",
        _quiet(quiet) if isinstance(quiet, Hours) else "",
        *(f"off {_days_off(off)}" for off in person.days_off if off.last >= today),
    ]
    return "; ".join(part for part in parts if part)


def _quiet(hours: Hours) -> str:
    return f"{_span(hours)} only what is urgent"


def _works(works: Works) -> str:
    return f"{_days(works.days)} {_span(works.hours)}".strip()


def _span(hours: Hours) -> str:
    return f"{_clock(hours.start_s)} to {_clock(hours.end_s)}"


def _clock(second: int) -> str:
    return f"{second // 3600:02d}:{second % 3600 // 60:02d}"


def _days(days: frozenset[int]) -> str:
    """Days that follow each other as one: ``Mon to Fri``; every day: nothing."""
    spells: list[list[int]] = []
    for day in sorted(days):
        if spells and spells[-1][-1] == day - 1:
            spells[-1].append(day)
        else:
            spells.append([day])
    return "" if len(days) == len(DAYS) else " and ".join(map(_spell, spells))


def _spell(days: Sequence[int]) -> str:
    first, last = DAYS[days[0]][:3], DAYS[days[-1]][:3]
    return first if len(days) == 1 else f"{first} {'and' if len(days) == 2 else 'to'} {last}"


def _days_off(off: DaysOff) -> str:
    first, last = (f"{day:%A} {day.day} {day:%B %Y}" for day in off)
    return first if off.first == off.last else f"{first} to {last}"
