"""Who is told of what, when, and by which ways: in words, without any address. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from service.alerts.hours import DAYS, DaysOff, Hours, Works
from service.alerts.people import Person, Place
from service.alerts.rules import AlertRules
from service.alerts.ways import Way
from service.listed import listed
from service.local_time import names_of_days, whole_day
from service.records.ways_store import WayOff
from service.voice import say


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
            say("everything")
            if r.kinds is None
            else ", ".join(say(kind) for kind in r.kinds) or say("nothing"),
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
    return say("at once") if quiet is None else say("at once; {quiet}", quiet=_quiet(quiet))


def _person_when(person: Person, rules: AlertRules, today: date) -> str:
    quiet = rules.quiet_hours.hours if person.quiet is None else person.quiet
    parts = [
        say("told first")
        if person.turn == 1
        else say("turn {turn}, if nobody before picks up", turn=person.turn),
        _at_work(person),
        _quiet(quiet) if isinstance(quiet, Hours) else "",
        *(say("off {days}", days=_days_off(off)) for off in person.days_off if off.last >= today),
    ]
    return "; ".join(part for part in parts if part)


def _at_work(person: Person) -> str:
    if not person.works:
        return say("at work at any hour")
    return say("at work {hours}", hours=", ".join(map(_works, person.works)))


def _quiet(hours: Hours) -> str:
    return say("{hours} only what is urgent", hours=_span(hours))


def _works(works: Works) -> str:
    return f"{_days(works.days)} {_span(works.hours)}".strip()


def _span(hours: Hours) -> str:
    return say("{start} to {end}", start=_clock(hours.start_s), end=_clock(hours.end_s))


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
    return "" if len(days) == len(DAYS) else listed([_spell(spell) for spell in spells])


def _spell(days: Sequence[int]) -> str:
    names = names_of_days("abbreviated")
    first, last = names[days[0]], names[days[-1]]
    if len(days) == 2:
        return listed([first, last])
    return first if len(days) == 1 else say("{start} to {end}", start=first, end=last)


def _days_off(off: DaysOff) -> str:
    first, last = (whole_day(day) for day in off)
    return first if off.first == off.last else say("{start} to {end}", start=first, end=last)
