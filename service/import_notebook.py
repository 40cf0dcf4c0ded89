"""`coatbell import`: the foundry's old notebook taken in, after a look at what would become of it."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path

from service.clock import SystemClock
from service.commands import add_places, complain, settings_of
from service.errors import BadInput, ShopError
from service.papers.notebook import Notebook
from service.papers.notebook_plan import Choices
from service.papers.notebook_report import report
from service.papers.notebook_text import LARGEST
from service.papers.zones import zones_of
from service.records.database import Database
from service.records.look_only import LookOnly
from service.records.recipe_files import RecipeShelf
from service.records.store import Records
from service.settings import Settings
from service.voice import say

LEFT_OUT = 1


def import_command(argv: Sequence[str]) -> int:
    """0: all taken (or would be); 1: lines were left out; 2: something to put right, told on stderr."""
    options = make_import_parser().parse_args(argv)
    try:
        return _import(options, settings_of(options))
    except ShopError as error:
        complain(error)
        return 2


def make_import_parser() -> argparse.ArgumentParser:
    """The options of `coatbell import`."""
    parser = argparse.ArgumentParser(
        prog="coatbell import",
        description="Take in an old notebook: CSV with the columns mould, coat, date, remark. Look at it with "
        "--dry-run first: what is recorded stays. Coatbell may run meanwhile.",
    )
    parser.add_argument("notebook", type=Path, metavar="NOTEBOOK.csv", help="the notebook")
    parser.add_argument(
        "--dry-run", action="store_true", help="record nothing, say what would become of each line"
    )
    parser.add_argument("--recipe", default="", metavar="NAME", help="the recipe of moulds that name none")
    parser.add_argument("--room", default="", metavar="NAME", help="the room they hung in (the first one)")
    parser.add_argument(
        "--zone",
        action="append",
        default=[],
        metavar="PLACE",
        help="a place of each mould, “breast, open face, 38 cm, 20 cm”; may be given several times",
    )
    order = parser.add_mutually_exclusive_group()
    order.add_argument("--day-first", action="store_true", help="3/11/2024 is in November")
    order.add_argument("--month-first", action="store_true", help="3/11/2024 is in March")
    parser.add_argument(
        "--take-the-rest",
        action="store_true",
        help="take a mould without those of its lines that cannot be taken",
    )
    add_places(parser)
    return parser


def _import(options: argparse.Namespace, settings: Settings) -> int:
    data, choices = _file(options.notebook), _choices(options)
    with LookOnly(settings.data.database_url) as looked_at:
        site = Records(looked_at, SystemClock()).site()
        findings = _door(looked_at, settings).look(data, choices)
    if not options.dry_run:
        with Database(settings.data.database_url) as database:
            findings = _door(database, settings).take_in(data, choices)
    print("\n".join(report(findings, site)))
    return 0 if findings.whole else LEFT_OUT


def _door(database: Database, settings: Settings) -> Notebook:
    clock = SystemClock()
    shelf = RecipeShelf(Path(str(files("configs") / "recipes")), settings.data.folder / "recipes")
    return Notebook(Records(database, clock), shelf, settings.drying.coat, clock.now)


def _choices(options: argparse.Namespace) -> Choices:
    said = options.day_first or options.month_first
    return Choices(
        recipe=options.recipe,
        room=options.room,
        zones=zones_of(options.zone),
        day_first=bool(options.day_first) if said else None,
        take_the_rest=options.take_the_rest,
    )


def _file(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(LARGEST + 1)
    except OSError as error:
        raise BadInput(
            "file_missing",
            say(
                "{path} cannot be read: {strerror}.",
                path=path,
                strerror=(error.strerror or str(error)).lower(),
            ),
            say("Check its name."),
        ) from error
