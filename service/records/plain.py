"""Checks on the few plain values the stores take: names, keys, numbers. Raise BadInput in the user's words."""

from __future__ import annotations

import math
import unicodedata
from typing import Annotated

from pydantic import AfterValidator

from service.errors import BadInput

UNSEEN = {"Cc", "Zl", "Zp"}
"""Unicode's categories of what breaks a line or steers a terminal (Unicode Standard, table 4-4)."""


def name_of(value: str, what: str, field: str, longest: int = 60) -> str:
    """`value` without blanks around it, if it can stand as a name; `what` says whose, such as "the room"."""
    name = value.strip()
    if not name:
        raise BadInput("name_missing", f"There is no name for {what}.", "Write one.", field)
    if len(name) > longest:
        raise BadInput(
            "name_too_long",
            f"The name for {what} is longer than {longest} letters.",
            "Write a shorter one.",
            field,
        )
    if not name.isprintable():
        raise BadInput(
            "name_unreadable",
            f"The name for {what} holds characters that cannot be shown.",
            "Write it with letters, digits and ordinary signs.",
            field,
        )
    return name


def one_line(text: str) -> str:
    """`text`, if it can stand in one line of a screen or a message."""
    if any(unicodedata.category(letter) in UNSEEN for letter in text):
        raise BadInput(
            "not_one_line",
            "It holds a line break or another sign that cannot be shown.",
            "Write it in one line, with letters, digits and ordinary signs.",
        )
    return text


def not_blank(text: str) -> str:
    """`text`, if there is something to see in it."""
    if text.isspace():
        raise BadInput("blank", "It holds nothing but blanks.", "Write a name people can read.")
    return text


OneLine = Annotated[str, AfterValidator(one_line)]
Name = Annotated[str, AfterValidator(one_line), AfterValidator(not_blank)]


def within(value: float, lowest: float, highest: float, what: str, unit: str, field: str) -> float:
    """`value`, if it lies within the limits, both included."""
    if not (math.isfinite(value) and lowest <= value <= highest):
        raise BadInput(
            "out_of_range",
            f"{what} cannot be {value:g}{unit}.",
            f"Give a value from {lowest:g} to {highest:g}{unit}.",
            field,
        )
    return value


def storable(text: str, longest: int) -> str:
    """Text from outside, cut and freed of what a database cannot hold; for looking at, not for computing."""
    clean = text[:longest].encode("utf-8", "replace").decode("utf-8")
    return clean.replace("\x00", "\N{REPLACEMENT CHARACTER}")
