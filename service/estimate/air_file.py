"""Air from a file: the table a logger writes, with the units its header names, as SI arrays."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from service.errors import BadInput
from service.toml_files import nearest, read_text
from service.units import Dimension, convert, parse
from service.voice import say

Array = NDArray[np.float64]
Lines = list[tuple[int, list[str]]]


class Column(StrEnum):
    """What a column of the file holds."""

    TIME = "time"
    TEMPERATURE = "temperature"
    HUMIDITY = "humidity"
    SPEED = "speed"
    PRESSURE = "pressure"


DIMENSIONS = {
    Column.TIME: Dimension.TIME,
    Column.TEMPERATURE: Dimension.TEMPERATURE,
    Column.HUMIDITY: Dimension.FRACTION,
    Column.SPEED: Dimension.SPEED,
    Column.PRESSURE: Dimension.PRESSURE,
}
BOUNDS = {
    Column.TEMPERATURE: (243.15, 333.15, "-30 to 60 degC"),
    Column.SPEED: (0.0, 30.0, "0 to 30 m/s"),
    Column.PRESSURE: (5e4, 1.1e5, "500 to 1100 hPa"),
}
HEADER = re.compile(
    r"^(?:air[ _])?(?:relative[ _])?(time|temperature|humidity|speed|pressure)"
    r"(?:\s*[\[(](?P<bracketed>[^\])]+)[\])]|_(?P<suffix>\w+|%))?$",
    re.IGNORECASE,
)
BRACKETED = re.compile(r"[\[(]([^\])]+)[\])]$")
ROUNDING = 1e-6
LONGEST_FILE = 200_000


@dataclass(frozen=True)
class AirColumns:
    """A file of air. time_s: (n,) from the first line on, increasing. values: those there are, (n,), SI.

    began: the date and hour of the first line, if the file has dates (without a zone if it names none).
    """

    time_s: Array
    values: Mapping[Column, Array]
    began: datetime | None


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a column stands, and the unit its numbers are in."""

    index: int
    unit: str | None


def humidity_share(value: float) -> float:
    """A share of saturation; sensors in wet air read up to 105 %, which is held to 100 %."""
    if not 0.0 <= value <= 1.05:
        raise BadInput(
            "humidity_wrong",
            say("{value:g} % is no humidity.", value=value * 100),
            say("Write 0 to 100 %, such as “45 %”."),
        )
    return min(value, 1.0)


def read_air_file(path: Path, headers: Mapping[Column, str], units: Mapping[Column, str]) -> AirColumns:
    """Read a table of air.

    headers: the file's own header of a column, where it is not the usual one. units: the unit of a column whose header
    names none. Raises BadInput naming the file, the line and what to do.
    """
    separator, lines = _lines(path)
    places = _places(path.name, lines[0][1], headers, units)
    if Column.TIME not in places:
        raise no_column(path.name, Column.TIME, lines[0][1])
    rows = lines[1:]
    if not rows:
        raise BadInput(
            "air_file_empty",
            say("{path} has no line of air.", path=path.name),
            say("Add one below the header."),
        )
    time_s, began = _times(path.name, rows, places[Column.TIME], separator)
    values: dict[Column, Array] = {
        column: _column(path.name, rows, column, place, separator)
        for column, place in places.items()
        if column is not Column.TIME
    }
    return AirColumns(time_s, values, began)


def _lines(path: Path) -> tuple[str, Lines]:
    """The separator, and the lines that hold something, with their numbers."""
    text = read_text(path)
    head = next((line for line in text.splitlines() if line.strip() and not line.startswith("#")), "")
    separator = next((mark for mark in (";", "\t") if mark in head), ",")
    table = csv.reader(text.splitlines(), delimiter=separator, skipinitialspace=True)
    lines = [
        (number, [cell.strip() for cell in cells])
        for number, cells in enumerate(table, 1)
        if any(cell.strip() for cell in cells) and not cells[0].startswith("#")
    ]
    if not lines:
        raise BadInput(
            "air_file_empty", say("{path} is empty.", path=path.name), say("Add a header and lines of air.")
        )
    if len(lines) > LONGEST_FILE:
        raise BadInput(
            "air_file_long",
            say("{path} has {number} lines.", path=path.name, number=len(lines)),
            say("Keep to {longest_file}.", longest_file=LONGEST_FILE),
        )
    return separator, lines


def _places(
    name: str, header: Sequence[str], headers: Mapping[Column, str], units: Mapping[Column, str]
) -> dict[Column, _Place]:
    places: dict[Column, _Place] = {}
    for index, cell in enumerate(header):
        found = _recognise(cell, headers)
        if found is None:
            continue
        column, unit = found
        if column in places:
            raise BadInput(
                "air_column_twice",
                say("{name} has two columns of {column}.", name=name, column=column),
                say("Name one in [air.columns]."),
            )
        places[column] = _Place(index, units.get(column) or unit)
    for column, wanted in headers.items():
        if column not in places:
            raise BadInput(
                "air_column_missing",
                say("{name} has no column “{wanted}”.", name=name, wanted=wanted),
                nearest(wanted, list(header)),
            )
    return places


def _recognise(cell: str, headers: Mapping[Column, str]) -> tuple[Column, str | None] | None:
    """The column a header stands for, and its unit. A header named in [air.columns] stands for that and no other."""
    for column, wanted in headers.items():
        if cell == wanted:
            unit = BRACKETED.search(cell)
            return column, unit[1] if unit else None
    match = HEADER.match(cell)
    if match is None or Column(match[1].lower()) in headers:
        return None
    suffix = match["suffix"]
    return Column(match[1].lower()), match["bracketed"] or (suffix and suffix.replace("_", "/"))


def _times(name: str, rows: Lines, place: _Place, separator: str) -> tuple[Array, datetime | None]:
    first = _cell(name, rows[0], Column.TIME, place)
    if place.unit or _is_number(first, separator):
        place = _Place(place.index, place.unit or "hour")
        time_s, began = _column(name, rows, Column.TIME, place, separator), None
    elif _is_length_of_time(_point(first, separator)):
        time_s, began = _column(name, rows, Column.TIME, place, separator), None
    else:
        moments = [_date(name, row, place) for row in rows]
        _same_kind(name, moments)
        time_s, began = np.array([(m - moments[0]).total_seconds() for m in moments]), moments[0]
    _check_order(name, rows, time_s)
    return time_s - time_s[0], began


def _check_order(name: str, rows: Lines, time_s: Array) -> None:
    late = np.flatnonzero(np.diff(time_s) <= 0)
    if late.size:
        line = rows[int(late[0]) + 1][0]
        raise BadInput(
            "air_time_back",
            say("{name}, line {line}: time does not go on.", name=name, line=line),
            say("Put the lines in order of time."),
        )


def _is_length_of_time(text: str) -> bool:
    try:
        parse(text, Dimension.TIME)
    except BadInput:
        return False
    return True


def _date(name: str, row: tuple[int, list[str]], place: _Place) -> datetime:
    cell = _cell(name, row, Column.TIME, place)
    try:
        moment = datetime.fromisoformat(cell)
    except ValueError as error:
        raise BadInput(
            "air_time_wrong",
            say("{name}, line {row}: “{cell}” is no date and hour.", name=name, row=row[0], cell=cell),
            say("Write it like 2026-03-01 14:00."),
        ) from error
    return moment.astimezone(UTC) if moment.tzinfo else moment


def _same_kind(name: str, moments: Sequence[datetime]) -> None:
    if len({moment.tzinfo is None for moment in moments}) > 1:
        raise BadInput(
            "air_time_zone",
            say("{name}: some times name their time zone and some do not.", name=name),
            say("Write all alike."),
        )


def _column(name: str, rows: Lines, column: Column, place: _Place, separator: str) -> Array:
    texts = [_cell(name, row, column, place) for row in rows]
    read = _reader(name, column, place.unit, separator)
    return np.array(
        [_checked(name, row[0], column, text, read) for row, text in zip(rows, texts, strict=True)]
    )


def _reader(name: str, column: Column, unit: str | None, separator: str) -> Callable[[str], float]:
    """How a cell becomes an SI float: by the column's unit, or else by the unit in the cell."""
    dimension = DIMENSIONS[column]
    if unit is None:
        return lambda text: parse(_point(text, separator), dimension)
    try:
        zero = convert(0.0, unit, dimension)
        one = convert(1.0, unit, dimension)
    except BadInput as error:
        raise BadInput(
            error.code,
            say("{name}: “{unit}” is no unit of {column}.", name=name, unit=unit, column=column),
            error.todo,
            f"air.units.{column}",
        ) from error
    return lambda text: zero + (one - zero) * float(_point(text, separator))


def _checked(name: str, line: int, column: Column, text: str, read: Callable[[str], float]) -> float:
    try:
        value = read(text)
        return humidity_share(value) if column is Column.HUMIDITY else _within(column, text, value)
    except BadInput as error:
        raise BadInput(
            error.code,
            say(
                "{name}, line {line}, {column}: {message}",
                name=name,
                line=line,
                column=column,
                message=error.message,
            ),
            error.todo,
        ) from error
    except ValueError as error:
        raise BadInput(
            "not_a_number",
            say(
                "{name}, line {line}, {column}: “{text}” is not a number.",
                name=name,
                line=line,
                column=column,
                text=text,
            ),
            say("Put it right or take it out."),
        ) from error


def _within(column: Column, text: str, value: float) -> float:
    if not np.isfinite(value):
        raise BadInput(
            "not_finite",
            say("“{text}” is not a usable number.", text=text),
            say("Put it right or take the line out."),
        )
    low, high, words = BOUNDS.get(column, (-np.inf, np.inf, ""))
    if not low - ROUNDING <= value <= high + ROUNDING:
        raise BadInput(
            "out_of_range",
            say("“{text}” is not between {words}.", text=text, words=words),
            say("Check the number and its unit."),
        )
    return value


def _cell(name: str, row: tuple[int, list[str]], column: Column, place: _Place) -> str:
    line, cells = row
    if place.index >= len(cells) or not cells[place.index]:
        raise BadInput(
            "air_cell_empty",
            say("{name}, line {line}: {column} is empty.", name=name, line=line, column=column),
            say("Fill it in or take the line out."),
        )
    return cells[place.index]


def _is_number(text: str, separator: str) -> bool:
    try:
        float(_point(text, separator))
    except ValueError:
        return False
    return True


def _point(text: str, separator: str) -> str:
    """Where cells are parted by semicolons, a comma is a decimal point."""
    return text.replace(",", ".") if separator == ";" else text


def no_column(name: str, column: Column, header: Sequence[str] = ()) -> BadInput:
    """The complaint that a file lacks a column."""
    has = " " + say("It has: {names}.", names=", ".join(header)) if header else ""
    return BadInput(
        "air_column_missing",
        say("{name} has no column of {column}.{has}", name=name, column=column, has=has),
        say("Head one “{column}”, or name it under [air.columns].", column=column),
        f"air.columns.{column}",
    )
