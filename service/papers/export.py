"""The record taken along: as JSON Lines for programs and for checking, as CSV for a spreadsheet."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime
from itertools import chain

from service.errors import NotFound
from service.papers.asked import Asked, Table, mould_called
from service.papers.cells import csv_lines
from service.papers.coat_table import coat_heads, coat_rows
from service.papers.fact_table import fact_heads, fact_rows, names_in
from service.papers.measured import by_the_hour, measured
from service.papers.reading_table import hour_rows, reading_heads, reading_rows
from service.papers.record_lines import fact_line, head_line, hour_line, in_chunks, reading_line
from service.papers.selection import describing, replaced_by, selected
from service.records.ledger_pages import Entry
from service.records.store import Records
from service.room.views import Audit
from service.voice import say


class Export:
    """What can be taken along of one shop's records. `audit`: a mould's whole life, worked out."""

    def __init__(self, records: Records, audit: Callable[[int], Audit], now: Callable[[], datetime]) -> None:
        self._records, self._audit, self._now = records, audit, now

    def lines(self, asked: Asked) -> Iterator[str]:
        """The record as JSON Lines, in pieces. What is asked wrong is raised at once, not on the way."""
        number, digest, _, numbers = self._selected(asked)
        records, site = self._records, self._records.site()
        first = head_line(asked, site, records.rooms(), self._now(), len(numbers), (number, digest))
        facts = (fact_line(line) for line in records.ledger_lines(numbers))
        if not asked.readings:
            return in_chunks(chain([first], facts))
        hours = (hour_line(hour) for hour in by_the_hour(records, asked, site, self._now()))
        readings = (reading_line(reading) for reading in measured(records, asked, site, self._now()))
        return in_chunks(chain([first], facts, hours, readings))

    def table(self, table: Table, asked: Asked) -> Iterator[str]:
        """One of the tables as CSV, in pieces."""
        if table is Table.READINGS:
            return in_chunks(self._reading_table(asked))
        if table is Table.COATS:
            return in_chunks(self._coat_table(asked))
        return in_chunks(self._fact_table(asked))

    def called(self, mould: str | None) -> int | None:
        """The number of the mould with this number or name; None for none. Raises as `mould_called` does."""
        if mould is None or not mould.strip():
            return None
        number, _ = self._records.ledger_end()
        return mould_called(mould, sorted(self._names(self._records.ledger_entries(number)).items()))

    def _selected(self, asked: Asked) -> tuple[int, str, list[Entry], list[int]]:
        asked.check()
        number, digest = self._records.ledger_end()
        entries = self._records.ledger_entries(number)
        if asked.mould_id is not None and all(entry.mould_id != asked.mould_id for entry in entries):
            raise NotFound(
                "mould_unknown",
                say("There is no mould number {mould_id}.", mould_id=asked.mould_id),
                say("Choose one from the board."),
            )
        site = self._records.site()
        return (
            number,
            digest,
            entries,
            selected(entries, asked.mould_id, asked.begins(site), asked.ends(site)),
        )

    def _names(self, entries: list[Entry]) -> dict[int, str]:
        return names_in(self._records.ledger_lines(list(describing(entries).values())))

    def _fact_table(self, asked: Asked) -> Iterator[str]:
        _, _, entries, numbers = self._selected(asked)
        site = self._records.site()
        rows = fact_rows(
            self._records.ledger_lines(numbers), self._names(entries), replaced_by(entries), site
        )
        return csv_lines(fact_heads(site), rows)

    def _coat_table(self, asked: Asked) -> Iterator[str]:
        _, _, entries, numbers = self._selected(asked)
        site, inside = self._records.site(), set(numbers)
        moulds = sorted({e.mould_id for e in entries if e.number in inside and e.mould_id is not None})
        return csv_lines(coat_heads(site), coat_rows(map(self._audit, moulds), site))

    def _reading_table(self, asked: Asked) -> Iterator[str]:
        self._selected(asked)
        site = self._records.site()
        hours = hour_rows(by_the_hour(self._records, asked, site, self._now()), site)
        readings = reading_rows(measured(self._records, asked, site, self._now()), site)
        return csv_lines(reading_heads(site), chain(hours, readings))
