"""`coatbell export`: the record taken along as JSON Lines or CSV, also while coatbell runs."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

from service.commands import add_places, complain, settings_of
from service.errors import BadInput, ShopError
from service.looking import looking_at
from service.papers.asked import Asked, Table, day
from service.papers.export import Export
from service.papers.record_models import schema
from service.records.files import files_in_words, put
from service.voice import say

JSON_LINES = "coatbell-record.jsonl"


def export_command(argv: Sequence[str]) -> int:
    """0: done; 2: something to put right, told on stderr."""
    options = make_export_parser().parse_args(argv)
    try:
        if options.schema:
            print(json.dumps(schema(), indent=2))
        else:
            _export(options)
    except ShopError as error:
        complain(error)
        return 2
    except BrokenPipeError:  # whoever read it, such as “head”, has had enough
        sys.stderr.close()
    return 0


def make_export_parser() -> argparse.ArgumentParser:
    """The options of `coatbell export`."""
    parser = argparse.ArgumentParser(
        prog="coatbell export",
        description="Take the record along: everything, one mould, or a span of days. Coatbell may run meanwhile.",
    )
    parser.add_argument("--mould", metavar="N_OR_NAME", help="only this mould, by number or name")
    parser.add_argument("--since", metavar="DATE", help="from this day on, such as 2026-03-02")
    parser.add_argument("--until", metavar="DATE", help="up to this day, its end included")
    parser.add_argument("--readings", action="store_true", help="with what the sensors measured")
    parser.add_argument(
        "--format",
        choices=["jsonl", "csv"],
        default="jsonl",
        help="JSON Lines (jsonl), or csv for a spreadsheet",
    )
    parser.add_argument(
        "--out",
        type=Path,
        metavar="FILE_OR_FOLDER",
        help="where to; left out, JSON Lines are printed. CSV is several files and wants a folder",
    )
    parser.add_argument("--schema", action="store_true", help="print the JSON Schema of the lines instead")
    add_places(parser)
    return parser


def _export(options: argparse.Namespace) -> None:
    if options.format == "csv" and options.out is None:
        raise BadInput(
            "folder_missing", say("CSV is several files."), say("Name a folder for them with --out."), "out"
        )
    with looking_at(settings_of(options)) as shop:
        asked = Asked(
            shop.export.called(options.mould),
            day(options.since, "since"),
            day(options.until, "until"),
            options.readings,
        )
        if options.format == "csv":
            _csv(shop.export, asked, options.out)
        else:
            _json_lines(shop.export, asked, options.out)


def _json_lines(export: Export, asked: Asked, out: Path | None) -> None:
    pieces = export.lines(asked)
    if out is None:
        for piece in pieces:
            sys.stdout.write(piece)
        return
    _save(pieces, out / JSON_LINES if out.is_dir() else out)


def _csv(export: Export, asked: Asked, folder: Path) -> None:
    if folder.is_file():
        raise BadInput(
            "not_a_folder", say("{folder} is a file.", folder=folder), say("Name a folder with --out."), "out"
        )
    for table in Table:
        if table is not Table.READINGS or asked.readings:
            _save(export.table(table, asked), folder / f"{table}.csv")


def _save(pieces: Iterator[str], place: Path) -> None:
    """Write a file so that nobody ever takes half of it for the whole."""
    with _written(place) as out:
        for piece in pieces:
            out.write(piece)
    print(f"Wrote {place}.", file=sys.stderr)


@contextmanager
def _written(place: Path) -> Iterator[TextIO]:
    part = place.with_name(f"{place.name}.part")
    with files_in_words(place.parent):
        place.parent.mkdir(parents=True, exist_ok=True)
        try:
            with part.open("w", encoding="utf-8", newline="") as out:
                yield out
            put(part, place)
        finally:
            part.unlink(missing_ok=True)
