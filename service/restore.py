"""`coatbell restore`: the records brought back from a copy, with their photos; what was there is kept aside."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from pathlib import Path

from service.commands import add_places, complain, settings_of
from service.errors import BadInput, NotFound, ShopError, Unavailable
from service.ledger_words import LedgerWords, ledger_faults
from service.records.backup import back_ups, must_be_sound, restore, stamp, unfinished
from service.records.ledger_heads import Signer, write_head
from service.records.ledger_lines import Book, read_book
from service.records.lock import only_one
from service.records.one_service import only_service
from service.records.photo_files import PHOTOS_FOLDER, bring_back_photos, photo_faults
from service.records.postgresql_dump import bring_back, dumped_book, dumps
from service.settings import Settings
from service.voice import say

BACK_UP_FOLDER = "back-ups"
SQLITE = "sqlite:///"
CLOCKS_DIFFER = timedelta(hours=1)


def back_up_folder(settings: Settings) -> Path:
    """Where the nightly copies lie."""
    return settings.data.folder / BACK_UP_FOLDER


def refuse_to_begin_anew(settings: Settings) -> None:
    """Raise Unavailable where the records are gone and copies of them are there.

    Raise it as well where bringing back a copy was broken off.
    A card that loses files must not end in an empty shop, whose copies would in time take the place of the good ones.
    """
    file, folder = sqlite_file(settings), back_up_folder(settings)
    if file is not None and (kept := unfinished(file)) is not None:
        raise Unavailable(
            "restore_unfinished",
            say("Bringing back a copy of {file} was broken off half-way.", file=file),
            say(
                "Do it again with “coatbell restore --newest” (with the --configs or --data you start it with). "
                "What was there before is kept as {kept}: it can be brought back like a copy.",
                kept=kept,
            ),
        )
    if file is None or (file.exists() and file.stat().st_size > 0) or not back_ups(folder):
        return
    raise Unavailable(
        "records_gone",
        say("The records {file} are gone or empty, and there are back-ups of them.", file=file),
        say(
            "Bring back the newest with “coatbell restore --newest” (with the --configs or --data you start "
            "it with). To begin with an empty shop instead, move {folder} elsewhere.",
            folder=folder,
        ),
    )


def restore_command(argv: Sequence[str]) -> int:
    """List the copies, or bring one back. 0: done; 2: something to put right, told on stderr."""
    options = make_restore_parser().parse_args(argv)
    try:
        settings = settings_of(options)
        copies = _copies(settings)
        if options.copy is None and not options.newest:
            print(
                "\n".join(str(copy) for copy in copies) or f"No back-ups yet in {back_up_folder(settings)}."
            )
            return 0
        chosen = options.copy or _newest(copies, back_up_folder(settings), datetime.now(UTC))
        _bring_back(settings, chosen, options.as_it_is)
    except ShopError as error:
        complain(error)
        return 2
    return 0


def make_restore_parser() -> argparse.ArgumentParser:
    """The options of `coatbell restore`."""
    parser = argparse.ArgumentParser(
        prog="coatbell restore",
        description="Bring the records back from a copy, with their photos. Stop coatbell first.",
    )
    parser.add_argument("copy", nargs="?", type=Path, help="the copy to bring back; left out: list them")
    parser.add_argument("--newest", action="store_true", help="bring back the newest one")
    parser.add_argument(
        "--as-it-is", action="store_true", help="bring it back even if entries in it were changed or removed"
    )
    add_places(parser)
    return parser


def _newest(copies: list[Path], folder: Path, now: datetime) -> Path:
    """The last by its name. Not if that says a time to come: nobody knows then which is the newest."""
    if not copies:
        raise NotFound(
            "no_back_ups",
            say("There are no back-ups in {folder}.", folder=folder),
            say("Name one with its folder, if you keep them elsewhere."),
        )
    newest = copies[-1]
    if newest.stem > f"coatbell-{stamp(now + CLOCKS_DIFFER)}":
        raise BadInput(
            "back_up_to_come",
            say(
                "The last copy by its name, {newest}, is of a time to come: this machine's clock is behind now, "
                "or was ahead when it was made.",
                newest=newest,
            ),
            say("Set the clock if it is wrong; else name the copy you want: “coatbell restore” lists them."),
        )
    return newest


def sqlite_file(settings: Settings) -> Path | None:
    """The SQLite file; None for PostgreSQL."""
    url = settings.data.database_url
    return Path(url.removeprefix(SQLITE)) if url.startswith(SQLITE) else None


def _copies(settings: Settings) -> list[Path]:
    folder = back_up_folder(settings)
    return back_ups(folder) if sqlite_file(settings) else dumps(folder)


def _bring_back(settings: Settings, copy: Path, as_it_is: bool) -> None:
    """The copy is looked through, and its photos are there, before anything else is moved."""
    now, file = datetime.now(UTC), sqlite_file(settings)
    with ExitStack() as alone:
        alone.enter_context(only_one(settings.data.folder))
        alone.enter_context(only_service(settings.data.database_url))
        book = _book(copy, file is not None)
        _refuse_a_broken_one(book, copy, as_it_is)
        bring_back_photos(copy.parent / PHOTOS_FOLDER, settings.data.folder / PHOTOS_FOLDER, stamp(now))
        if file is not None:
            kept: object = restore(file, copy, now, lambda: _note(settings, book, copy, now))
        else:
            schema = bring_back(settings.data.database_url, copy, now)
            kept = f"the tables of the schema {schema}" if schema else None
            _note(settings, book, copy, now)
    print(f"Brought back {copy}.")
    if kept is not None:
        print(f"What was there before is kept as {kept}.")
    words = LedgerWords(book)
    for fault in photo_faults(book.rows, settings.data.folder):
        print(words.photo(fault))


def _book(copy: Path, sqlite: bool) -> Book:
    """The ledger in a copy. Raises NotFound or BadInput where it is none."""
    if not sqlite:
        return dumped_book(copy)
    must_be_sound(copy)
    return read_book(f"{SQLITE}{copy}")


def _refuse_a_broken_one(book: Book, copy: Path, as_it_is: bool) -> None:
    faults = ledger_faults(book)
    if faults and not as_it_is:
        raise BadInput(
            "back_up_changed",
            say(
                "In the back-up {copy} not everything is as it was recorded. {faults}",
                copy=copy,
                faults=faults[0],
            ),
            say("Choose an older one, or bring this one back all the same with --as-it-is."),
        )


def _note(settings: Settings, book: Book, copy: Path, now: datetime) -> None:
    """Sign that the ledger was set back: what older heads say of more entries is explained by it."""
    number, digest = book.head or (0, "")
    write_head(Signer(settings.data.folder).head(now, number, digest, copy.name), back_up_folder(settings))
