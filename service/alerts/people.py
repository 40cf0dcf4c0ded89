"""Who is told: people, each with hours and ways to reach them; and places, which are told at once. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Annotated, Literal, Self
from urllib.parse import urlsplit

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, SecretStr, model_validator

from service.alerts.hours import (
    DaysOffText,
    Hours,
    WorksText,
    next_change,
    not_a_number,
    read_hours,
    second_of_day,
)
from service.alerts.kinds import Kind
from service.errors import BadInput
from service.local_time import local
from service.records.shop_facts import Site

CONSOLE = "console"
NO_QUIET = "none"
Name = Annotated[str, Field(min_length=1, max_length=60)]


def _quiet(written: object) -> object:
    return read_hours(written) if isinstance(written, str) and written != NO_QUIET else not_a_number(written)


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
        return self.name or (text if text == CONSOLE else urlsplit(text).scheme.partition("+")[0] or "way")


def _as_table(written: object) -> object:
    return {"send_to": written} if isinstance(written, str) else written


WrittenAddress = Annotated[Address, BeforeValidator(_as_table)]


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
    ways: tuple[WrittenAddress, ...] = Field(default=(), max_length=8)
    kinds: tuple[Kind, ...] | None = None
    turn: int = Field(default=1, ge=1, le=9)
    works: tuple[WorksText, ...] = ()
    days_off: tuple[DaysOffText, ...] = ()
    quiet: Quiet = None

    @model_validator(mode="after")
    def _names_differ(self) -> Self:
        check_names([way.called for way in self.ways], f"two ways of “{self.name}” are called")
        return self

    def wants(self, kind: str) -> bool:
        """Whether this kind goes to them. A message that follows from another goes where that one went."""
        return self.kinds is None or kind in self.kinds

    def is_off(self, at: datetime, site: Site | None) -> bool:
        """Whether it is a day off."""
        day = local(at, site).date()
        return any(off.first <= day <= off.last for off in self.days_off)

    def at_work(self, at: datetime, site: Site | None) -> bool:
        """Whether it is within their working hours, or they named none."""
        if self.is_off(at, site):
            return False
        weekday, second = local(at, site).weekday(), second_of_day(at, site)
        return not self.works or any(spell.hold(weekday, second) for spell in self.works)


def check_names(names: Sequence[str], words: str) -> None:
    """Raise BadInput where a name comes twice."""
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise BadInput("name_twice", f"{words} “{twice}”.", "Give each a name of its own.")


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
        return next_change(lambda instant: self.reachable(name, instant), at)

    def back_at(self, name: str, at: datetime) -> datetime | None:
        """When they can next be reached, at the earliest now. None: not within weeks."""
        return at if self.reachable(name, at) else self.until(name, at)

    def _is_quiet(self, person: Person, at: datetime) -> bool:
        hours = self._quiet if person.quiet is None else person.quiet
        return not (hours is None or isinstance(hours, str)) and hours.hold(second_of_day(at, self._site))
