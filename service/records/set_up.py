"""What a shop set up in the browser: people, ways, topics, tanks, hooks, and how each person is spoken to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from service.records.plain import spelling
from service.units import Units
from service.voice import Language, Voice


class Part(StrEnum):
    """What of a shop can be set up."""

    PEOPLE = "people"  # by their name
    PLACES = "places"
    TELLING = "telling"  # the tables of alerts.toml, by the table's name
    MESSAGES = "messages"  # which messages carry which readings, by the topic's pattern
    TANKS = "tanks"
    HOOKS = "hooks"
    VOICES = "voices"  # language and units, by the person's name
    OUTDOOR = "outdoor"  # the table [outdoor] of site.toml, by that name
    ROOMS = "rooms"  # what stands in a room, by its number
    RECIPES = "recipes"  # every text a recipe of the shop's own ever had, by the recipe's name


@dataclass(frozen=True, slots=True)
class SetUp:
    """What was said of one name. body None: it was taken away. number: counts up with each word."""

    number: int
    part: Part
    name: str
    body: dict[str, Any] | None
    at: datetime
    hand: str


def newest(said: Iterable[SetUp]) -> list[SetUp]:
    """The last word on each name, by name."""
    last = {each.name: each for each in said}
    return [last[name] for name in sorted(last)]


def voices(said: Iterable[SetUp]) -> dict[str, Voice]:
    """How each is spoken to, by their name as `spelling` compares names.

    Where another coatbell kept a language or units unknown here, they are spoken to as if they had not chosen.
    """
    read = ((each.name, _voice(each.body)) for each in said if each.body is not None)
    return {spelling(name): spoken for name, spoken in read if spoken is not None}


def voice_body(chosen: Voice) -> dict[str, Any]:
    """As it is kept."""
    return {"language": chosen.language.value, "units": chosen.units.value if chosen.units else None}


def _voice(body: Mapping[str, Any]) -> Voice | None:
    units = body.get("units")
    try:
        return Voice(Language(str(body.get("language"))), Units(units) if units else None)
    except ValueError:
        return None
