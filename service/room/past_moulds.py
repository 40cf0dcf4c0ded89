"""The moulds that left the shell room, as a list to leaf through and search. Read once, then only what changed."""

from __future__ import annotations

import threading
from dataclasses import dataclass

from service.records.mould_lines import MouldLine as MouldLine
from service.records.plain import spelling
from service.records.store import Records

PAGE = 100
MOST_WAITING = 12
"""So many are asked for their result at once: a shop that never tells has hundreds."""
MOST_AT_ONCE = 400
"""More moulds changed than this: all are read anew."""


@dataclass(frozen=True)
class PastMoulds:
    """One page, newest first. `total`: how many there are on all of them.

    waiting: the newest of all that nobody has told yet how they came out.
    """

    rows: tuple[MouldLine, ...]
    total: int
    page: int
    pages: int
    search: str
    waiting: tuple[MouldLine, ...] = ()


class PastList:
    """Follows the ledger. May be asked from many threads."""

    def __init__(self, records: Records) -> None:
        self._records = records
        self._lock = threading.Lock()
        self._number = -1
        self._lines: dict[int, MouldLine] = {}
        self._in_order: tuple[MouldLine, ...] = ()

    def page(self, page: int = 1, search: str = "") -> PastMoulds:
        """search: what name, piece or customer must hold, however it is spelled. A page too far is the last."""
        found = self._found(search)
        waiting = tuple(line for line in self._in_order if line.verdict is None)[:MOST_WAITING]
        pages = max(-(-len(found) // PAGE), 1)
        page = min(max(page, 1), pages)
        return PastMoulds(
            found[(page - 1) * PAGE : page * PAGE], len(found), page, pages, search.strip(), waiting
        )

    def _found(self, search: str) -> tuple[MouldLine, ...]:
        with self._lock:
            self._follow()
            lines = self._in_order
        wanted = spelling(search.strip())
        return tuple(line for line in lines if wanted in _words(line)) if wanted else lines

    def _follow(self) -> None:
        number = self._records.last_fact_number()
        if number == self._number:
            return
        told = self._records.told_since(self._number)
        changed = {mould_id for _, mould_id in told if mould_id is not None}
        if 0 <= self._number < number and len(changed) <= MOST_AT_ONCE:
            self._lines = {i: line for i, line in self._lines.items() if i not in changed}
            self._lines |= {line.id: line for line in self._records.mould_lines(sorted(changed))}
        else:
            self._lines = {line.id: line for line in self._records.mould_lines()}
        self._in_order = tuple(
            sorted(self._lines.values(), key=lambda line: (line.ended_at, line.id), reverse=True)
        )
        self._number = number


def _words(line: MouldLine) -> str:
    return spelling("\n".join((line.name, line.piece, line.customer)))
