"""Checks on the few plain values the stores take: names, keys, numbers. Raise BadInput in the user's words."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable
from typing import Annotated, Any, TypeVar

from pydantic import AfterValidator, ValidationInfo

from service.errors import BadInput
from service.voice import say

Told = TypeVar("Told")

UNSEEN = {"Cc", "Zl", "Zp"}
"""Unicode's categories of what breaks a line or steers a terminal (Unicode Standard, table 4-4)."""

TURNING = set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""What turns the way of reading round, for all that stands after it as well (Unicode Standard Annex #9)."""

EMPTY = set("\u115f\u1160\u2800\u3164\uffa0")
"""Counted as letters or signs by Unicode, yet nothing is drawn for them."""

CLINGING = {"Cf", "Mn", "Me"}
"""Unicode's categories of joiners, variation selectors and accents: they only change the signs beside them."""

JOINERS = {0x200C: None, 0x200D: None}
"""Signs inside Persian words and of emoji put together, though Unicode counts them as not printable."""

RECORDED = {"recorded": True}
"""Validation context for what stands in the records: it was checked by the rules of its day."""


def name_of(value: str, what: str, field: str, longest: int = 60) -> str:
    """`value` without blanks around it, if it can stand as a name; `what` says whose, such as "the room"."""
    name = value.strip()
    if not _shows(name):
        raise BadInput(
            "name_missing", say("There is no name for {what}.", what=what), say("Write one."), field
        )
    if len(name) > longest:
        raise BadInput(
            "name_too_long",
            say("The name for {what} is longer than {longest} letters.", what=what, longest=longest),
            say("Write a shorter one."),
            field,
        )
    if not name.translate(JOINERS).isprintable():
        raise BadInput(
            "name_unreadable",
            say("The name for {what} holds characters that cannot be shown.", what=what),
            say("Write it with letters, digits and ordinary signs."),
            field,
        )
    return name


def spelling(name: str) -> str:
    """What two names have in common that a reader would take for one."""
    joined = unicodedata.normalize("NFKC", name.translate(JOINERS))
    return unicodedata.normalize("NFKC", joined.casefold())


def by_number(name: str) -> list[Any]:
    """For sorting: 2 before 10."""
    parts = re.split(r"(\d+)", spelling(name))
    return [(1, int(part), "") if part.isdecimal() else (0, 0, part) for part in parts if part]


def one_line(text: str) -> str:
    """`text`, if it can stand in one line of a screen or a message and, blanks apart, shows there."""
    if any(unicodedata.category(letter) in UNSEEN for letter in text):
        raise BadInput(
            "not_one_line",
            say("It holds a line break or another sign that cannot be shown."),
            say("Write it in one line, with letters, digits and ordinary signs."),
        )
    if TURNING & set(text):
        raise BadInput(
            "turns_round",
            say("It holds a hidden sign that turns the way of reading round."),
            say("Type it in anew instead of pasting it."),
        )
    if text.strip() and not _shows(text):
        raise _blank()
    return text


def not_blank(text: str) -> str:
    """`text`, if there is something to see in it."""
    if text and not _shows(text):
        raise _blank()
    return text


def _shows(text: str) -> bool:
    """Whether any sign is drawn."""
    return any(not _unseen(letter) for letter in text)


def _unseen(letter: str) -> bool:
    return letter.isspace() or letter in EMPTY or unicodedata.category(letter) in CLINGING


def _blank() -> BadInput:
    return BadInput(
        "blank", say("There is nothing to see in it."), say("Write it so that people can read it.")
    )


def when_told(check: Callable[[Told], Told]) -> AfterValidator:
    """Check what people tell; what is recorded already is read as it stands."""

    def checked(value: Told, info: ValidationInfo) -> Told:
        return value if info.context == RECORDED else check(value)

    return AfterValidator(checked)


OneLine = Annotated[str, when_told(one_line)]
Name = Annotated[str, when_told(one_line), when_told(not_blank)]


def within(value: float, lowest: float, highest: float, what: str, unit: str, field: str) -> float:
    """`value`, if it lies within the limits, both included."""
    if not (math.isfinite(value) and lowest <= value <= highest):
        raise BadInput(
            "out_of_range",
            say("{what} cannot be {value:g}{unit}.", what=what, value=value, unit=unit),
            say(
                "Give a value from {lowest:g} to {highest:g}{unit}.",
                lowest=lowest,
                highest=highest,
                unit=unit,
            ),
            field,
        )
    return value


def storable(text: str, longest: int) -> str:
    """Text from outside, cut and freed of what a database cannot hold; for looking at, not for computing."""
    clean = text[:longest].encode("utf-8", "replace").decode("utf-8")
    return clean.replace("\x00", "\N{REPLACEMENT CHARACTER}")
