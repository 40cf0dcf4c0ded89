"""`coatbell ledger verify`: whether anything recorded was changed, removed or moved since, and what."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from service.commands import add_places, complain, settings_of
from service.counted import counted
from service.errors import NotFound, ShopError
from service.ledger_words import LedgerWords, ledger_faults
from service.records.ledger_heads import SHORT, head_files
from service.records.ledger_lines import Book, read_book
from service.records.ledger_witness import hear
from service.records.photo_files import named_photos, photo_faults
from service.restore import back_up_folder
from service.settings import Settings
from service.voice import say

WHOLE, BROKEN, COULD_NOT_LOOK = 0, 1, 2


@dataclass(frozen=True)
class Verdict:
    """What a check found: faults, and what is only worth knowing."""

    faults: tuple[str, ...]
    notes: tuple[str, ...]


def ledger_command(argv: Sequence[str]) -> int:
    """Run `coatbell ledger`. 0: whole; 1: something was changed; 2: it could not be looked at."""
    options = make_ledger_parser().parse_args(argv)
    try:
        settings = settings_of(options)
        verdict = verify(settings, options.heads, options.key)
    except ShopError as error:
        complain(error)
        return COULD_NOT_LOOK
    print("\n".join([*verdict.faults, *verdict.notes]))
    return BROKEN if verdict.faults else WHOLE


def make_ledger_parser() -> argparse.ArgumentParser:
    """The options of `coatbell ledger`."""
    parser = argparse.ArgumentParser(
        prog="coatbell ledger",
        description="Check that nothing recorded was changed, removed or moved since. Nothing is written; coatbell may "
        "run meanwhile.",
    )
    parser.add_argument(
        "what", choices=["verify"], help="check the whole ledger, its photos and its signed heads"
    )
    parser.add_argument(
        "--heads", type=Path, metavar="PLACE", help="a folder of signed heads, or one (the back-up folder's)"
    )
    parser.add_argument(
        "--key", metavar="KEY", help="the public key that the heads must carry, or its first letters"
    )
    add_places(parser)
    return parser


def verify(settings: Settings, heads: Path | None = None, key: str | None = None) -> Verdict:
    """Check ledger, table of moulds, photos and heads. Raises ShopError where something cannot be looked at."""
    place = heads or back_up_folder(settings)
    files = head_files(place) if place.exists() else []
    if heads is not None and not files:
        raise NotFound(
            "heads_unknown",
            say("There are no heads in {heads}.", heads=heads),
            say("Name the folder that holds them."),
        )
    book = read_book(settings.data.database_url)
    words = LedgerWords(book)
    heard = hear(book, files, key)
    faults = [
        *ledger_faults(book),
        *(words.photo(fault) for fault in photo_faults(book.rows, settings.data.folder)),
        *(words.doubt(doubt) for doubt in heard.doubts),
    ]
    notes = [*words.heard(heard), *_whole(book, words, len(heard.good), not faults)]
    return Verdict(tuple(faults), tuple(notes))


def _whole(book: Book, words: LedgerWords, heads: int, whole: bool) -> Iterator[str]:
    if not whole:
        yield "Keep these records as they are to look at, and compare them with a back-up from before."
        return
    count = counted(len(book.rows), "entry", "entries")
    photos = counted(len(named_photos(book.rows)), "photo")
    last = book.rows[-1] if book.rows else None
    yield f"The ledger is whole: {count}, {photos}, {counted(heads, 'signed head')}."
    if last is not None:
        yield f"The last is {words.entry(last)}; its check sum begins with {last.digest[:SHORT]}."
