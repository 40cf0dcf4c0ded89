"""Which column of a notebook holds what, by the names foundries give them. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from service.errors import BadInput
from service.voice import say


class Column(StrEnum):
    MOULD = "mould"
    COAT = "coat"
    DATE = "date"
    TIME = "time"
    REMARK = "remark"
    KIND = "kind"
    TANK = "tank"
    HAND = "hand"
    RECIPE = "recipe"
    RESULT = "result"
    FAILING = "failing"
    ROOM = "room"


NEEDED = (Column.MOULD, Column.COAT, Column.DATE)
NAMES: Mapping[Column, str] = {
    Column.MOULD: "mould, mold, moulds, molds, piece, name, shell, work, sculpture, casting, job, item, "
    "mould name, mold name, piece name, name of piece, name of mould",
    Column.COAT: "coat, coats, dip, dips, layer, coat no, coat nr, coat number, dip no, dip nr, dip number, "
    "no of coat, number of coat",
    Column.DATE: "date, when, day, dipped, dipped on, date dipped, dip date, date of dip, date and time, datetime, "
    "date time",
    Column.TIME: "time, hour, clock, at, time of day",
    Column.REMARK: "remark, remarks, note, notes, comment, comments, observation, observations, what happened",
    Column.KIND: "kind, type, coat kind, coat type, kind of coat, type of coat",
    Column.TANK: "tank, slurry, pot, bucket, vat, slurry tank",
    Column.HAND: "hand, hands, who, by, dipped by, initials, done by",
    Column.RECIPE: "recipe",
    Column.RESULT: "result, results, outcome, came out, how it came out, verdict, end",
    Column.FAILING: "failing, failings, fault, faults, defect, defects, what failed, failure, problem",
    Column.ROOM: "room, place, where",
}
KNOWN = {name.strip(): column for column, names in NAMES.items() for name in names.split(",")}


@dataclass(frozen=True, slots=True)
class Columns:
    """Where each thing stands in a row, and the names of the columns that are not read."""

    at: Mapping[Column, int]
    unread: tuple[str, ...]
    width: int

    def cell(self, cells: Sequence[str], column: Column) -> str:
        place = self.at.get(column)
        return cells[place] if place is not None and place < len(cells) else ""


def known(cells: Sequence[str]) -> int:
    """How many of these are names of columns."""
    return len({KNOWN[plain(cell)] for cell in cells if plain(cell) in KNOWN})


def plain(name: str) -> str:
    """``dip no`` from ``Dip_No.``"""
    return " ".join(re.findall(r"[^\W_]+", name.casefold()))


def columns_of(heads: Sequence[str]) -> Columns:
    """Raises BadInput where one that is needed is missing, or two could be the same thing."""
    at: dict[Column, int] = {}
    for place, name in enumerate(heads):
        column = KNOWN.get(plain(name))
        if column is None:
            continue
        if column in at and plain(heads[at[column]]) == column.value and plain(name) != column.value:
            continue  # a column with the very name stands before others that could be meant
        if column in at and plain(name) != column.value:
            raise _two(heads[at[column]], name, column)
        at[column] = place
    _check(at, heads)
    unread = tuple(name for place, name in enumerate(heads) if name and place not in at.values())
    return Columns(at, unread, len(heads))


def _two(one: str, other: str, column: Column) -> BadInput:
    return BadInput(
        "column_twice",
        say("Both “{one}” and “{other}” could be the {column}.", one=one, other=other, column=column),
        say("Call the right one “{column}”.", column=column),
        "notebook",
    )


def _none_for(missing: Sequence[Column], found: str) -> str:
    names = say(" nor the ").join(missing)
    return say("There is no column for the {names}. The first line says: {found}.", names=names, found=found)


def _check(at: Mapping[Column, int], heads: Sequence[str]) -> None:
    missing = [column for column in NEEDED if column not in at]
    if not missing:
        return
    found = ", ".join(f"“{name[:40]}”" for name in heads[:12] if name) or say("nothing")
    raise BadInput(
        "column_missing",
        _none_for(missing, found),
        say("Put the names of the columns in the first line: mould, coat, date, remark."),
        "notebook",
    )
