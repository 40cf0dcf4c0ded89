"""The lines of a notebook, each read by itself: what was done to which mould, on what day. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from service.errors import BadInput, ShopError
from service.papers import notebook_words as words
from service.papers.notebook_columns import Column, Columns, columns_of, known
from service.papers.notebook_days import Written, written
from service.papers.notebook_text import Row, rows_of
from service.records.facts import FaultKind
from service.records.plain import name_of, one_line, spelling
from service.records.recipes import CoatKind
from service.voice import say

DITTO = {"ditto", "do", "do.", '"', "''", "″", "〃", "id.", "idem"}
REPEATED = (Column.MOULD, Column.DATE, Column.KIND, Column.TANK, Column.HAND, Column.RECIPE, Column.ROOM)
LONGEST_REMARK = 2000


@dataclass(frozen=True, slots=True)
class Line:
    """One line that can be read by itself."""

    number: int
    mould: str
    done: words.Done
    day: Written
    remark: str
    kind: CoatKind | None
    tank: str
    hand: str
    recipe: str
    result: words.ResultWord | None
    failing: str
    faults: tuple[FaultKind, ...]
    room: str


@dataclass(frozen=True, slots=True)
class Fault:
    """A line that cannot be taken: what it says, why not, and what to do. Without a mould where it names none."""

    line: int
    said: str
    message: str
    todo: str
    mould: str = ""


@dataclass(frozen=True, slots=True)
class Double:
    """A line that says nothing new."""

    line: int
    first: int


@dataclass(frozen=True, slots=True)
class Lines:
    """What a notebook's file holds. `said`: each line as it stands, for telling what is wrong with it."""

    separator: str
    unread: tuple[str, ...]
    lines: tuple[Line, ...]
    faults: tuple[Fault, ...]
    doubles: tuple[Double, ...]
    said: Mapping[int, str]


def lines_of(text: str, this_year: int) -> Lines:
    """Read every line. Raises BadInput where the file as a whole cannot be read."""
    separator, rows = rows_of(text, known)
    columns, rows = columns_of(rows[0].cells), rows[1:]
    if not rows:
        raise BadInput(
            "no_lines", say("There is no line below the names of the columns."), say("Write the coats there.")
        )
    lines, faults = list[Line](), list[Fault]()
    for row, cells in _filled(rows, columns):
        try:
            lines.append(_line(row.number, cells, this_year))
            _must_fit(row, columns)
        except ShopError as error:
            lines = [line for line in lines if line.number != row.number]
            faults.append(Fault(row.number, said(row), error.message, error.todo, cells[Column.MOULD]))
    kept, doubles = _once(lines)
    texts = {row.number: said(row) for row in rows}
    return Lines(separator, columns.unread, tuple(kept), tuple(faults), tuple(doubles), texts)


def said(row: Row) -> str:
    """A line as it stands, shortened."""
    text = " | ".join(row.cells).rstrip(" |").replace("\n", " ").replace("\r", " ")
    return text if len(text) <= 120 else f"{text[:119]}…"


Cells = Mapping[Column, str]


def _filled(rows: Sequence[Row], columns: Columns) -> Iterator[tuple[Row, Cells]]:
    """The cells of each row by column; a sign for “the same” stands for what the row above says."""
    above: dict[Column, str] = dict.fromkeys(Column, "")
    for row in rows:
        cells = {column: columns.cell(row.cells, column) for column in Column}
        for column in REPEATED:
            if cells[column].casefold() in DITTO:
                cells[column] = above[column]
        above = cells
        yield row, cells


def _must_fit(row: Row, columns: Columns) -> None:
    if any(row.cells[columns.width :]):
        raise BadInput(
            "cells_too_many",
            say("It has {number} cells under {width} columns.", number=len(row.cells), width=columns.width),
            say("Put a remark that holds the separator in quotation marks."),
        )


def _line(number: int, cells: Cells, this_year: int) -> Line:
    result, faults, failing = _came_out(cells)
    return Line(
        number=number,
        mould=one_line(name_of(cells[Column.MOULD], say("the mould"), "mould")),
        done=words.done(cells[Column.COAT]),
        day=written(cells[Column.DATE], cells[Column.TIME], this_year),
        remark=_remark(cells[Column.REMARK]),
        kind=words.kind(cells[Column.KIND]),
        tank=name_of(cells[Column.TANK], say("the tank"), "tank") if cells[Column.TANK] else "",
        hand=name_of(cells[Column.HAND], say("the hand"), "hand") if cells[Column.HAND] else "",
        recipe=cells[Column.RECIPE],
        result=result,
        failing=failing,
        faults=faults,
        room=cells[Column.ROOM],
    )


def _came_out(cells: Cells) -> tuple[words.ResultWord | None, tuple[FaultKind, ...], str]:
    """How it came out, what was wrong with it, and the words for that; a fault as the result says both."""
    text, failing = cells[Column.RESULT], cells[Column.FAILING]
    result, faults = words.result(text), words.faults(failing)
    if result is not None and result.verdict == "sound" and faults:
        raise BadInput(
            "result_unclear",
            say("It is said to be sound, and that something went wrong with it."),
            say("Leave out one of the two; what else there is to say is a remark."),
            "result",
        )
    if faults and (result is None or result.verdict is None):
        result = words.ResultWord(result.outcome if result else "failed", "failed")
    if result is None or result.verdict != "failed":
        return result, (), ""
    said = [part for part in (failing, "" if words.mere_verdict(text) else text) if part]
    return result, faults or words.faults(text) or (FaultKind.OTHER,), _remark("; ".join(said))


def _remark(text: str) -> str:
    if len(text) > LONGEST_REMARK:
        raise BadInput(
            "remark_too_long",
            say("The remark is longer than {longest_remark} letters.", longest_remark=LONGEST_REMARK),
            say("Shorten it, or write it over several lines."),
            "remark",
        )
    return text


def _once(lines: Sequence[Line]) -> tuple[list[Line], list[Double]]:
    """Lines that say the very same stand for one."""
    first: dict[Line, int] = {}
    kept, doubles = list[Line](), list[Double]()
    for line in lines:
        same = replace(line, number=0, mould=spelling(line.mould))
        if same in first:
            doubles.append(Double(line.number, first[same]))
        else:
            first[same] = line.number
            kept.append(line)
    return kept, doubles
