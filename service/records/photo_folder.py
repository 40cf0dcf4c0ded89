"""The folder the photos lie in, beside the records: each named by what it holds, written whole or not at all."""

from __future__ import annotations

import logging
from collections.abc import Collection
from functools import lru_cache
from pathlib import Path

from service.errors import NotFound, Unavailable
from service.records.files import files_in_words, put
from service.records.pictures import Picture, digest, small
from service.voice import say

log = logging.getLogger(__name__)

DAY_S = 86_400.0
MOST_SMALL = 300
"""So many thumbnails are kept in memory: some 5 MB."""


class PhotoFolder:
    """Any thread may call it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._small = lru_cache(maxsize=MOST_SMALL)(self._shrunk)

    def put(self, picture: Picture) -> None:
        """Keep a picture; one that is there already stays. Raises Unavailable where it cannot be written."""
        place = self._place(picture.sha256)
        if self._holds(picture.sha256):
            return
        part = place.with_name(f"{place.name}.part")
        with files_in_words(self.folder):
            self.folder.mkdir(parents=True, exist_ok=True)
            try:
                part.write_bytes(picture.jpeg)
                put(part, place)
            finally:
                part.unlink(missing_ok=True)

    def read(self, sha256: str) -> bytes:
        """A picture. Raises NotFound where its file is gone, Unavailable where it is another than was recorded."""
        try:
            jpeg = self._place(sha256).read_bytes()
        except FileNotFoundError as error:
            raise NotFound(
                "photo_lost",
                say("The file of that photo is not there any more."),
                say("Bring back the folder {folder} from a copy, if there is one.", folder=self.folder),
            ) from error
        except OSError as error:
            raise Unavailable(
                "photo_unreadable",
                say("The file of that photo cannot be read."),
                say("Look at the disk that holds {folder}.", folder=self.folder),
            ) from error
        if digest(jpeg) != sha256:
            raise Unavailable(
                "photo_changed",
                say("The file of that photo is not the one that was recorded: it was changed from outside."),
                say("Bring back {place} from a copy, if there is one.", place=self._place(sha256)),
            )
        return jpeg

    def small(self, sha256: str) -> bytes:
        """The same as large as a thumb. Raises what `read` does."""
        return self._small(sha256)

    def sweep(self, named: Collection[str], now_s: float) -> list[Path]:
        """Take away what is older than a day and was never recorded, as before a power cut; what was taken away.

        named: the photos the ledger names. now_s: on the clock that dates files.
        """
        if self._restored:
            return []
        found = [*self.folder.glob("*.jpg"), *self.folder.glob("*.part")]
        stray = [file for file in found if file.name.split(".")[0] not in named or file.suffix == ".part"]
        old = [file for file in stray if now_s - file.stat().st_mtime > DAY_S]
        for file in old:
            file.unlink(missing_ok=True)
            log.info("a photo that was never recorded is swept away: %s", file)
        return old

    @property
    def _restored(self) -> bool:
        """Whether older records were brought back: what they do not name may have been recorded after all."""
        return any(self.folder.parent.glob("*.kept-*"))

    def _shrunk(self, sha256: str) -> bytes:
        return small(self.read(sha256))

    def _holds(self, sha256: str) -> bool:
        try:
            return bool(self.read(sha256))
        except (NotFound, Unavailable):
            return False

    def _place(self, sha256: str) -> Path:
        return self.folder / f"{sha256}.jpg"
