"""What befell a ledger: which entry was changed, removed, moved or put in, told by the digests of all the others."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import islice
from typing import Any

from service.records.ledger import START, Line, digest

MOST_SUSPECTS = 200
"""Among so many entries that do not fit is looked for one that stands in the wrong place: each is tried with each."""


class What(StrEnum):
    """What befell an entry, or the mark of the ledger's end."""

    CHANGED = "changed"
    DIGEST = "digest changed"
    MISSING = "missing"
    MOVED = "moved"
    SWAPPED = "swapped"
    EXTRA = "extra"
    END = "end mark changed"


@dataclass(frozen=True, slots=True)
class Row:
    """An entry as it stands in the table. `line` is None where a value is none that coatbell writes.

    told: every column, as far as it can be read.
    """

    number: int
    digest: str
    told: Mapping[str, Any]
    line: Line | None

    def as_number(self, number: int, before: str) -> str | None:
        """Its digest, if it stood at `number` after `before`; None where it cannot be read."""
        try:
            return None if self.line is None else digest(before, replace(self.line, number=number))
        except ValueError:  # such as a year that no calendar has
            return None

    def fits(self, number: int, before: str) -> bool:
        return self.as_number(number, before) == self.digest


@dataclass(frozen=True, slots=True)
class Found:
    """One thing that befell the ledger.

    number: the entry it befell, by its right number. until: the last of a run of them. row: what stands for it now.
    other: where it stands now, or what it changed places with. before, after: the nearest entries around it.
    """

    what: What
    number: int
    until: int
    row: Row | None = None
    other: int | None = None
    before: Row | None = None
    after: Row | None = None


def search(rows: Sequence[Row], head: tuple[int, str] | None) -> list[Found]:
    """Everything that befell these entries, in their order; nothing: the chain is whole up to the end mark."""
    walk = _Walk(rows, head)
    walk.go()
    return [walk.among_neighbours(found) for found in _paired(walk.found)]


class _Walk:
    """Follows the chain from its start, and at each number looks for the entry that belongs there."""

    def __init__(self, rows: Sequence[Row], head: tuple[int, str] | None) -> None:
        self._at = {row.number: row for row in rows}
        self._numbers = sorted(self._at)
        self._head = head
        self._suspects = self._look_for_suspects()
        self._placed: set[int] = set()
        self._digests: dict[int, str] = {}
        self.found: list[Found] = []

    def _look_for_suspects(self) -> list[Row]:
        """What does not follow on what stands before it."""
        left = (row for row in self._at.values() if not row.fits(row.number, self._stored_before(row.number)))
        return list(islice(left, MOST_SUSPECTS))

    def _stored_before(self, number: int) -> str:
        before = self._at.get(number - 1)
        return before.digest if before else START

    def go(self) -> None:
        number, before = 1, START
        while True:
            follows = self._take(number, before)
            if follows is not None:
                self._digests[number] = before = follows
                number += 1
            elif (after := self._next(number)) is not None:
                number, before = self._over_the_gap(number, after)
            else:
                break
        self._look_at_the_rest()
        self._look_at_the_end(number - 1)

    def _next(self, number: int) -> int | None:
        """The next number at which something stands. What lies behind the end mark was put there."""
        left = (n for n in self._numbers[bisect_right(self._numbers, number) :] if n not in self._placed)
        found = next(left, None)
        return None if found is None or (self._head is not None and found > self._head[0]) else found

    def _take(self, number: int, before: str) -> str | None:
        """The digest the next entry must follow on; None where nothing stands for this one."""
        row = self._own(number)
        if row is not None and row.fits(number, before):
            self._placed.add(number)
            return row.digest
        astray = self._astray(number, before)
        if astray is not None:
            self._placed.add(astray.number)
            self._tell(What.MOVED, number, astray, astray.number)
            return astray.digest
        return None if row is None else self._broken(row, number, before)

    def _worth_trying(self) -> list[Row]:
        """In a ledger that is changed throughout, no entry is looked for elsewhere."""
        return self._suspects if len(self.found) <= MOST_SUSPECTS else []

    def _own(self, number: int) -> Row | None:
        return None if number in self._placed else self._at.get(number)

    def _astray(self, number: int, before: str) -> Row | None:
        """The entry that belongs at this number, and stands at another."""
        left = (
            row for row in self._worth_trying() if row.number not in self._placed and row.number != number
        )
        return next((row for row in left if row.fits(number, before)), None)

    def _broken(self, row: Row, number: int, before: str) -> str:
        """What stands at its number and does not fit: other content than its digest says, or another digest."""
        self._placed.add(number)
        others = [r for r in self._worth_trying() if r.number != number]
        content = next((r for r in others if r.as_number(number, before) == row.digest), None)
        if content is not None:
            self._tell(What.MOVED, number, content, content.number)
            return row.digest
        right = row.as_number(number, before)
        if right is not None and self._vouched_for(number, right):
            self._tell(What.DIGEST, number, row)
            return right
        self._tell(What.CHANGED, number, row)
        return row.digest

    def _vouched_for(self, number: int, right: str) -> bool:
        """Whether what comes next followed on this digest."""
        after = self._at.get(number + 1)
        return after.fits(number + 1, right) if after else self._head == (number, right)

    def _over_the_gap(self, number: int, after: int) -> tuple[int, str]:
        """The entry after a gap can no longer be checked by itself, since the one it follows on is gone.

        The entries after it vouch for its digest.
        """
        self._tell(What.MISSING, number, None, until=after - 1)
        self._placed.add(after)
        self._digests[after] = self._at[after].digest
        return after + 1, self._at[after].digest

    def _look_at_the_rest(self) -> None:
        for row in self._at.values():
            if row.number not in self._placed:
                self._tell(What.EXTRA, row.number, row)

    def _look_at_the_end(self, last: int) -> None:
        if self._head is None:
            self._tell(What.END, last, None)
            return
        number, said = self._head
        if (number, said) == (last, self._digests.get(last, START)):
            return
        if number > last and said != self._digests.get(last):
            self._tell(What.MISSING, last + 1, None, until=number)
        elif not any(f.number == last and f.what in (What.CHANGED, What.DIGEST) for f in self.found):
            self._tell(What.END, last, None, number)

    def _tell(
        self, what: What, number: int, row: Row | None, other: int | None = None, until: int | None = None
    ) -> None:
        self.found.append(Found(what, number, until or number, row, other))

    def among_neighbours(self, found: Found) -> Found:
        """With the entries around it."""
        earlier = self._numbers[: bisect_left(self._numbers, found.number)][-1:]
        later = self._numbers[bisect_right(self._numbers, found.until) :][:1]
        return replace(
            found,
            before=self._at[earlier[0]] if earlier else None,
            after=self._at[later[0]] if later else None,
        )


def _paired(found: Iterable[Found]) -> Iterator[Found]:
    """Two entries that stand in each other's place are one finding."""
    moved = {(f.number, f.other): f for f in found if f.what is What.MOVED}
    for each in found:
        back = moved.get((each.other or 0, each.number)) if each.what is What.MOVED else None
        if back is None:
            yield each
        elif each.number < back.number:
            yield replace(each, what=What.SWAPPED)
