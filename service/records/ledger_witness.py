"""What signed heads say against the ledger: which part of it was rewritten, and since when."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from service.errors import BadInput
from service.records.ledger_heads import Head, read_head
from service.records.ledger_lines import Book


class Against(StrEnum):
    """What is wrong with a head, or what it shows."""

    UNREADABLE = "unreadable"
    FORGED = "forged"
    OTHER_KEY = "other key"
    REWRITTEN = "rewritten"
    ANOTHER_WAY = "another way"


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing the heads show. `held`: the newest head before, that the ledger still holds."""

    against: Against
    file: Path
    head: Head | None = None
    held: Head | None = None


@dataclass(frozen=True, slots=True)
class Heard:
    """What came of asking the heads. `set_back`: how many were from before older records were brought back.

    strangers: heads that say so of heads signed with another key than their own.
    """

    doubts: tuple[Doubt, ...]
    good: tuple[Head, ...]
    set_back: int
    strangers: tuple[Head, ...] = ()

    @property
    def keys(self) -> tuple[str, ...]:
        """Whose keys signed them, the oldest first."""
        return tuple(dict.fromkeys(head.key for head in self.good))


def hear(book: Book, files: Iterable[Path], key: str | None = None) -> Heard:
    """Ask these heads. key: the public key they must carry, or how it begins; None: any.

    Only the first head that the ledger does not hold is told: it says from where on it was rewritten.
    """
    read = [_read(file) for file in files]
    doubts = [found for found in (_doubt(*each, key) for each in read) if found is not None]
    doubted = {doubt.file for doubt in doubts}
    whole = sorted(
        ((file, head) for file, head in read if head is not None and file not in doubted),
        key=lambda each: (each[1].at, each[1].entries),
    )
    notes = {file: _set_back(head, [other for _, other in whole]) for file, head in whole}
    asked = [each for each in whole if not notes[each[0]]]
    held = [head for _, head in asked if book.digest_at(head.entries) == head.digest]
    doubts += _first_not_held(asked, held)
    strangers = [
        head_notes[0] for file, head in whole if (head_notes := notes[file]) and _by_another(head, head_notes)
    ]
    every = tuple(head for _, head in whole)
    return Heard(tuple(doubts), every, len(whole) - len(asked), tuple(dict.fromkeys(strangers)))


def _read(file: Path) -> tuple[Path, Head | None]:
    try:
        return file, read_head(file)
    except BadInput:
        return file, None


def _doubt(file: Path, head: Head | None, key: str | None) -> Doubt | None:
    if head is None:
        return Doubt(Against.UNREADABLE, file)
    if not head.holds:
        return Doubt(Against.FORGED, file, head)
    if key is not None and not head.key.startswith(key.lower()):
        return Doubt(Against.OTHER_KEY, file, head)
    return None


def _set_back(head: Head, all_of_them: Sequence[Head]) -> list[Head]:
    """The heads that say that older records, in which it cannot be found, were brought back after it."""
    return [
        later
        for later in all_of_them
        if later.brought_back and later.at >= head.at and later.entries < head.entries
    ]


def _by_another(head: Head, notes: Sequence[Head]) -> bool:
    """Whether none of those who say so can be seen to have had the key it was signed with."""
    return all(note.key != head.key for note in notes)


def _first_not_held(asked: Sequence[tuple[Path, Head]], held: Sequence[Head]) -> list[Doubt]:
    """By the number of entries: a head speaks for all before it, so the shortest that fails draws the line."""
    failed = [(file, head) for file, head in asked if head not in held]
    if not failed:
        return []
    most = max((good.entries for good in held), default=-1)
    strange = [Doubt(Against.ANOTHER_WAY, file, head) for file, head in failed if head.entries <= most]
    beyond = [each for each in failed if each[1].entries > most]
    if not beyond:
        return strange
    file, head = min(beyond, key=lambda each: (each[1].entries, each[1].at))
    return [*strange, Doubt(Against.REWRITTEN, file, head, max(held, key=lambda h: h.entries, default=None))]
