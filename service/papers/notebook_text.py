"""A notebook's file as rows of cells, whatever a spreadsheet made of it. Pure."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from service.errors import BadInput
from service.voice import later, say

LARGEST = 4 * 1024 * 1024
SEPARATORS = {",": later("commas"), ";": later("semicolons"), "\t": later("tabs")}
MARKED = (
    (b"\xef\xbb\xbf", "utf-8-sig", "UTF-8"),
    (b"\xff\xfe", "utf-16", "UTF-16"),
    (b"\xfe\xff", "utf-16", "UTF-16"),
)
ARCHIVE, OLD_SHEET = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
SEPARATOR_LINE = re.compile(r"sep=.\r?\n?")


@dataclass(frozen=True, slots=True)
class Row:
    """The cells of a line, without blanks around them. `number`: where it begins in the file, from 1."""

    number: int
    cells: tuple[str, ...]


def text_of(data: bytes) -> tuple[str, str]:
    """The text of a file, its lines ended alike, and how it was written. Raises BadInput for what is no text."""
    if len(data) > LARGEST:
        raise BadInput(
            "file_too_large",
            say("The file is larger than {largest} MB.", largest=LARGEST // 1024 // 1024),
            say("Split it, each part with the line of column names, and take one in after the other."),
        )
    if data.startswith((ARCHIVE, OLD_SHEET)):
        raise BadInput(
            "not_csv",
            say("That is a spreadsheet's own file, not CSV."),
            say("Open it there and save it as CSV."),
        )
    for encoding, name in _encodings(data):
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" not in text:
            return text.replace("\r\n", "\n").replace("\r", "\n"), name
    raise BadInput(
        "not_text", say("The file cannot be read as text."), say("Save it as CSV, UTF-8, and try again.")
    )


def _encodings(data: bytes) -> Iterator[tuple[str, str]]:
    marked = next(((encoding, name) for mark, encoding, name in MARKED if data.startswith(mark)), None)
    if marked:
        yield marked
        return
    if data[1:2] == b"\x00":
        yield "utf-16-le", "UTF-16"
    if data[:1] == b"\x00":
        yield "utf-16-be", "UTF-16"
    yield "utf-8", "UTF-8"
    yield "cp1252", "Windows-1252"


def rows_of(text: str, score: Callable[[tuple[str, ...]], int]) -> tuple[str, list[Row]]:
    """The separator, and all rows that hold anything; the first holds the column names.

    score: how many columns of a first row are known. The separator is the one that makes most of them so.
    Raises BadInput for an empty file, or where a quotation mark is left open.
    """
    separator = max(SEPARATORS, key=lambda sign: score(_first(text, sign)))
    rows = list(_rows(text, separator))
    if not rows:
        raise BadInput(
            "file_empty", say("There is nothing in the file."), say("Choose the file of the notebook.")
        )
    return separator, rows


def _first(text: str, separator: str) -> tuple[str, ...]:
    try:
        return next((row.cells for row in _rows(text, separator)), ())
    except BadInput:
        return ()


def _rows(text: str, separator: str) -> Iterator[Row]:
    told = SEPARATOR_LINE.match(text)
    body = text[told.end() :] if told else text
    reader = csv.reader(io.StringIO(body, newline=""), delimiter=separator, strict=True)
    number = 2 if told else 1
    first = number - 1
    while True:
        try:
            cells = next(reader, None)
        except csv.Error as error:
            raise BadInput(
                "line_unreadable",
                say(
                    "Line {number}: a quotation mark is not closed, or stands in the midst of a cell.",
                    number=number,
                ),
                say("Put the cell in quotation marks, and write those inside it twice."),
            ) from error
        if cells is None:
            return
        if any(cell.strip() for cell in cells):
            yield Row(number, tuple(cell.strip() for cell in cells))
        number = first + reader.line_num + 1
