"""`coatbell restore`: the records brought back from a nightly copy; the damaged file is kept aside."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from service.errors import BadInput, NotFound, ShopError, Unavailable
from service.records.backup import back_ups, restore
from service.records.lock import only_one
from service.settings import Settings, load_settings

BACK_UP_FOLDER = "back-ups"
SQLITE = "sqlite:///"


def back_up_folder(settings: Settings) -> Path:
    """Where the nightly copies lie."""
    return settings.data.folder / BACK_UP_FOLDER


def refuse_to_begin_anew(settings: Settings) -> None:
    """Raise Unavailable where the records are gone and copies of them are there.

    A card that loses files must not end in an empty shop, whose copies would in time take the place of the good ones.
    """
    file, folder = _file(settings), back_up_folder(settings)
    if file is None or (file.exists() and file.stat().st_size > 0) or not back_ups(folder):
        return
    raise Unavailable(
        "records_gone",
        f"The records {file} are gone or empty, and there are back-ups of them.",
        "Bring back the newest with “coatbell restore --newest” (with the --configs or --data you start it with). "
        f"To begin with an empty shop instead, move {folder} elsewhere.",
    )


def restore_command(argv: Sequence[str]) -> int:
    """List the copies, or bring one back. 0: done; 2: something to put right, told on stderr."""
    options = make_restore_parser().parse_args(argv)
    over = {"data": {"folder": str(options.data)}} if options.data else {}
    try:
        settings = load_settings(options.configs, over)
        copies = back_ups(back_up_folder(settings))
        if options.copy is None and not options.newest:
            print(
                "\n".join(str(copy) for copy in copies) or f"No back-ups yet in {back_up_folder(settings)}."
            )
            return 0
        _bring_back(settings, _chosen(options, copies, settings))
    except ShopError as error:
        print(f"coatbell: {error.message}\n  {error.todo}", file=sys.stderr)
        return 2
    return 0


def make_restore_parser() -> argparse.ArgumentParser:
    """The options of `coatbell restore`."""
    parser = argparse.ArgumentParser(
        prog="coatbell restore",
        description="Bring the records back from a nightly copy. Stop coatbell first.",
    )
    parser.add_argument("copy", nargs="?", type=Path, help="the copy to bring back; left out: list them")
    parser.add_argument("--newest", action="store_true", help="bring back the newest one")
    parser.add_argument(
        "--configs", type=Path, metavar="FOLDER", help="a folder with your own settings files"
    )
    parser.add_argument(
        "--data", type=Path, metavar="FOLDER", help="where the records are kept (coatbell-data)"
    )
    return parser


def _chosen(options: argparse.Namespace, copies: list[Path], settings: Settings) -> Path:
    if options.copy is not None:
        return Path(options.copy)
    if not copies:
        raise NotFound(
            "no_back_ups",
            f"There are no back-ups in {back_up_folder(settings)}.",
            "Name one with its folder, if you keep them elsewhere.",
        )
    return copies[-1]


def _file(settings: Settings) -> Path | None:
    """The SQLite file; None for PostgreSQL."""
    url = settings.data.database_url
    return Path(url.removeprefix(SQLITE)) if url.startswith(SQLITE) else None


def _bring_back(settings: Settings, copy: Path) -> None:
    file = _file(settings)
    if file is None:
        raise BadInput(
            "not_a_file",
            "These records lie in PostgreSQL.",
            "Bring them back with pg_restore, from your pg_dump.",
        )
    with only_one(settings.data.folder):
        aside = restore(file, copy, datetime.now(UTC))
    print(f"Brought back {copy}.")
    if aside is not None:
        print(f"What was there before is kept as {aside}.")
