"""Who is told: people, each with hours and ways to reach them; and places, which are told at once. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, time, timedelta
from itertools import count
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, SecretStr, model_validator

from service.alerts.hours import (
    DaysOffText,
    Hours,
    WorksText,
    clock_reaches,
    only_text,
    read_hours,
    second_of_day,
)
from service.alerts.kinds import Kind
from service.errors import BadInput
from service.local_time import local
from service.records.plain import name_of, spelling
from service.records.shop_facts import Site
from service.voice import later, say

CONSOLE = "console"
NO_QUIET = "none"
KNOWN_AS = {
    "mailto": "e-mail",
    "mailtos": "e-mail",
    "ntfys": "ntfy",
    "json": later("web address"),
    "jsons": later("web address"),
    "xml": later("web address"),
    "xmls": later("web address"),
    "form": later("web address"),
    "forms": later("web address"),
}
"""What people call the usual schemes of addresses; any other goes by its own name."""
ONE_WEEK = tuple(datetime(2026, 3, 2) + timedelta(days=day) for day in range(7))
"""Any will do, from its Monday on: working hours know no dates."""


def _name(written: str) -> str:
    return name_of(written, say("somebody who is told"), "name")


Name = Annotated[str, Field(min_length=1, max_length=60), AfterValidator(_name)]


def _quiet(written: object) -> object:
    return read_hours(written) if isinstance(written, str) and written != NO_QUIET else only_text(written)


Quiet = Annotated[Hours | Literal["none"] | None, BeforeValidator(_quiet)]


class Part(BaseModel):
    """A table of alerts.toml: an unknown key is an error, and so is a number that is not finite."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class Address(Part):
    """One way to reach somebody: ``console``, a webhook, or an Apprise address. `name`: what pages call it."""

    name: str = Field(default="", max_length=40, examples=['"mail"'])
    send_to: SecretStr = Field(min_length=1, examples=['"ntfy://ntfy.example.org/bench-one"'])

    @property
    def called(self) -> str:
        """Its name, or else what kind of address it is."""
        text = self.send_to.get_secret_value()
        scheme = text.partition(":")[0].partition("+")[0].strip().lower() if ":" in text else "way"
        return self.name or (CONSOLE if text == CONSOLE else KNOWN_AS.get(scheme, scheme))


def _with_names(ways: tuple[Address, ...]) -> tuple[Address, ...]:
    """Each with a name of its own: a second ``ntfy`` is called ``ntfy 2``. What was named by hand stays."""
    taken = {way.name for way in ways}
    named = []
    for way in ways:
        name = way.name or next(n for n in _numbered(way.called) if n not in taken)
        taken.add(name)
        named.append(way.model_copy(update={"name": name}))
    return tuple(named)


def _numbered(name: str) -> Iterator[str]:
    yield name
    yield from (f"{name} {number}" for number in count(2))


def _as_table(written: object) -> object:
    return {"send_to": written} if isinstance(written, str) else written


WrittenAddress = Annotated[Address, BeforeValidator(_as_table)]
Ways = Annotated[tuple[WrittenAddress, ...], AfterValidator(_with_names)]


class Place(Part):
    """Somewhere everybody hears of it: a phone on the wall, an office, another program. No kinds: all of them.

    It has no turn and no working hours, and nobody there takes anything on. `quiet` false: it knows no quiet hours.
    """

    name: Name
    send_to: SecretStr = Field(min_length=1, examples=['"ntfy://ntfy.example.org/shellroom"'])
    kinds: tuple[Kind, ...] | None = None
    quiet: bool = True

    @property
    def ways(self) -> tuple[Address, ...]:
        return (Address(send_to=self.send_to),)

    def wants(self, kind: str) -> bool:
        return self.kinds is None or kind in self.kinds


class Person(Part):
    """Somebody who dips. `ways` are tried in order: the next one where the one before does not take a message.

    kinds: what they are told of; None: everything. turn: those of turn 1 are told first, the next if nobody picks up.
    works: outside these hours, and on days off, only urgent kinds reach them, and those only if nobody else can be
    reached. quiet: their own quiet hours; None: the shop's; "none": none.
    """

    name: Name
    ways: Ways = Field(default=(), max_length=8)
    kinds: tuple[Kind, ...] | None = None
    turn: int = Field(default=1, ge=1, le=9)
    works: tuple[WorksText, ...] = ()
    days_off: tuple[DaysOffText, ...] = ()
    quiet: Quiet = None

    @model_validator(mode="after")
    def _names_differ(self) -> Self:
        check_names([way.called for way in self.ways], say("two ways of “{name}” are called", name=self.name))
        return self

    def wants(self, kind: str) -> bool:
        """Whether this kind goes to them. A message that follows from another goes where that one went."""
        return self.kinds is None or kind in self.kinds

    def is_off(self, at: datetime, site: Site | None) -> bool:
        """Whether it is a day off."""
        return self._has_off(local(at, site).date())

    def at_work(self, at: datetime, site: Site | None) -> bool:
        """Whether it is within their working hours, or they named none.

        Hours over midnight go with the day they began on: after a day off nobody works its night.
        """
        if not self.works:
            return not self.is_off(at, site)
        begun = (spell.begun(local(at, site)) for spell in self.works)
        return any(day is not None and not self._has_off(day) for day in begun)

    def can_ever_ring(self, quiet: Hours | None) -> bool:
        """Whether anything is left of their working hours outside these quiet ones, days off and jumps aside."""
        marks = self.marks | set(quiet or ())
        instants = (day + timedelta(seconds=mark) for day in ONE_WEEK for mark in marks)
        return any(self._works_at(at) and not _within(quiet, at.time()) for at in instants)

    def _works_at(self, there: datetime) -> bool:
        return not self.works or any(spell.begun(there) for spell in self.works)

    @property
    def marks(self) -> frozenset[int]:
        """The seconds of the day at which it may change whether they can be reached; their quiet hours left out."""
        return frozenset({0, *(second for spell in self.works for second in spell.hours)})

    def _has_off(self, day: date) -> bool:
        return any(off.first <= day <= off.last for off in self.days_off)


def _within(hours: Hours | None, there: time) -> bool:
    return hours is not None and hours.hold(there.hour * 3600 + there.minute * 60 + there.second)


def check_names(names: Sequence[str], words: str) -> None:
    """Raise BadInput where a name comes twice, as people read it."""
    read = [spelling(name) for name in names]
    twice = next((name for name in names if read.count(spelling(name)) > 1), None)
    if twice is not None:
        raise BadInput(
            "name_twice",
            f"{words} “{twice}”.",
            say("Give each a name of its own."),
        )


def quiet_of(person: Person, shops: Hours | None) -> Hours | None:
    """Their quiet hours: their own, or else the shop's. None: none."""
    hours = shops if person.quiet is None else person.quiet
    return hours if isinstance(hours, Hours) else None


class Reach:
    """Who can be reached when, of everything together. `quiet`: the shop's quiet hours."""

    def __init__(self, people: Iterable[Person], quiet: Hours | None, site: Site | None) -> None:
        self._people = {person.name: person for person in people}
        self._quiet, self._site = quiet, site

    def reachable(self, name: str, at: datetime) -> bool:
        """Whether a message that is not urgent may ring them now: at work, and not in quiet hours."""
        person = self._people[name]
        return person.at_work(at, self._site) and not self._is_quiet(person, at)

    def until(self, name: str, at: datetime) -> datetime | None:
        """When it next changes whether they can be reached. None: not within weeks."""
        now, person = self.reachable(name, at), self._people[name]
        marks = person.marks | set(self._quiet_of(person) or ())
        instants = clock_reaches(marks, at, self._site)
        return next((instant for instant in instants if self.reachable(name, instant) != now), None)

    def back_at(self, name: str, at: datetime) -> datetime | None:
        """When they can next be reached, at the earliest now. None: not within weeks."""
        return at if self.reachable(name, at) else self.until(name, at)

    def _is_quiet(self, person: Person, at: datetime) -> bool:
        hours = self._quiet_of(person)
        return hours is not None and hours.hold(second_of_day(at, self._site))

    def _quiet_of(self, person: Person) -> Hours | None:
        return quiet_of(person, self._quiet)
