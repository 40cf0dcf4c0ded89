"""Cells and rows of CSV for a spreadsheet (RFC 4180, UTF-8): nothing in them is ever taken for a formula. Pure."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence

BYTE_ORDER_MARK = "\ufeff"
"""Without it spreadsheets on some machines take UTF-8 for an old code page."""
FORMULA = re.compile(r"'*[=+\-@\t\r\n＝＋－＠]")
DEFUSED = re.compile(r"''*[=+\-@\t\r\n＝＋－＠]")

Cell = str | float | int | bool | None


def defused(text: str) -> str:
    """Text that a spreadsheet would work out, with an apostrophe before it; `fused` takes that away again."""
    return f"'{text}" if FORMULA.match(text) else text


def fused(text: str) -> str:
    """What `defused` was given."""
    return text[1:] if DEFUSED.match(text) else text


def cell(value: Cell) -> str:
    """Numbers as they are, text defused, yes or nothing."""
    if value is None or value is False:
        return ""
    if value is True:
        return "yes"
    if isinstance(value, str):
        return defused(value)
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def csv_lines(heads: Sequence[str], rows: Iterable[Sequence[Cell]]) -> Iterator[str]:
    """A whole file, row by row."""
    yield BYTE_ORDER_MARK + _row(heads)
    for row in rows:
        yield _row([cell(value) for value in row])


def _row(cells: Sequence[str]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerow(cells)
    return out.getvalue()
