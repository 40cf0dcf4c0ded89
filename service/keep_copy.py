"""`coatbell backup`, and the nightly copy: the records, the photos, and a signed head that vouches for both."""

from __future__ import annotations

import argparse
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from service.commands import add_places, complain, settings_of
from service.counted import counted
from service.errors import ShopError, Unavailable
from service.records.backup import copy_records
from service.records.ledger_heads import HEADS_FOLDER, Signer, write_head
from service.records.ledger_lines import no_ledger, read_end
from service.records.photo_files import PHOTOS_FOLDER, copy_photos
from service.records.postgresql_dump import dump, thin_out_dumps
from service.records.store import Records
from service.restore import back_up_folder, sqlite_file
from service.settings import Settings

LAST_BACK_UP = "last back-up"


@dataclass
class Kept:
    """What was kept, and what could not be: one part that fails keeps none of the others back."""

    copy: Path | None = None
    photos: int = 0
    head: Path | None = None
    troubles: list[ShopError] = field(default_factory=list)

    @contextmanager
    def on_its_own(self) -> Iterator[None]:
        try:
            yield
        except Unavailable as error:
            self.troubles.append(error)


def keep_nightly(settings: Settings, records: Records, now: datetime) -> Kept:
    """The nightly copy, among the newest `keep`. The head goes out even where the copy of a PostgreSQL cannot."""
    folder, keep = back_up_folder(settings), settings.back_up.keep
    if sqlite_file(settings) is not None:
        return _with_all(settings, folder, now, lambda: records.back_up(folder, keep))
    kept = _with_all(settings, folder, now, lambda: dump(settings.data.database_url, folder, now))
    if kept.copy is not None:
        thin_out_dumps(folder, kept.copy, keep)
    return kept


def forget_heads(settings: Settings) -> None:
    """A demo that is begun anew has another ledger: the heads of the one before would speak against it."""
    shutil.rmtree(back_up_folder(settings) / HEADS_FOLDER, ignore_errors=True)


def keep_copy(settings: Settings, folder: Path, now: datetime) -> Kept:
    """A copy asked for; coatbell may be running. Raises ShopError where none could be made."""
    file, url = sqlite_file(settings), settings.data.database_url
    if file is not None and not file.is_file():
        raise no_ledger(str(file))
    return _with_all(
        settings, folder, now, lambda: copy_records(file, folder, now) if file else dump(url, folder, now)
    )


def _with_all(settings: Settings, folder: Path, now: datetime, make: Callable[[], Path]) -> Kept:
    """The head is of what is in the copy; of PostgreSQL, of what there was when the copy was begun."""
    kept = Kept()
    if sqlite_file(settings):
        kept.copy = make()
        entries, digest = read_end(f"sqlite:///{kept.copy}")
    else:
        entries, digest = read_end(settings.data.database_url)
        with kept.on_its_own():
            kept.copy = make()
    with kept.on_its_own():
        own, copies = settings.data.folder / PHOTOS_FOLDER, folder / PHOTOS_FOLDER
        kept.photos = copy_photos(own, copies, now.toordinal())
    with kept.on_its_own():
        kept.head = write_head(Signer(settings.data.folder).head(now, entries, digest), folder)
    return kept


def backup_command(argv: Sequence[str]) -> int:
    """Run `coatbell backup`. 0: done; 2: something to put right, told on stderr."""
    options = make_backup_parser().parse_args(argv)
    try:
        settings = settings_of(options)
        kept = keep_copy(settings, options.folder or back_up_folder(settings), datetime.now(UTC))
    except ShopError as error:
        complain(error)
        return 2
    if kept.copy is not None:
        print(f"Copied to {kept.copy}, with {counted(kept.photos, 'new photo')} beside it.")
    if kept.head is not None:
        print(f"The head of its ledger is {kept.head}: keep it elsewhere too.")
    for trouble in kept.troubles:
        complain(trouble)
    return 2 if kept.troubles else 0


def make_backup_parser() -> argparse.ArgumentParser:
    """The options of `coatbell backup`."""
    parser = argparse.ArgumentParser(
        prog="coatbell backup",
        description="Copy the records, the photos and the head of the ledger. Coatbell may be running.",
    )
    parser.add_argument("folder", nargs="?", type=Path, help="where to (the folder of the nightly copies)")
    add_places(parser)
    return parser
