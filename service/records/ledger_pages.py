"""The ledger page by page, as it is chained: for taking the whole record along without holding it in memory."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import islice

from sqlmodel import col, select

from service.records.base_store import BaseStore
from service.records.ledger import Line
from service.records.ledger_writer import line_of
from service.records.tables import FactTable

PAGE = 500


@dataclass(frozen=True, slots=True)
class Entry:
    """Where a fact stands, without what it says."""

    number: int
    mould_id: int | None
    kind: str
    at: datetime
    replaces: int | None


class LedgerPagesStore(BaseStore):
    def ledger_entries(self, up_to: int) -> list[Entry]:
        """Every fact up to this number, in order."""
        columns = (FactTable.number, FactTable.mould_id, FactTable.kind, FactTable.at, FactTable.replaces)
        rows = select(*columns).where(col(FactTable.number) <= up_to)  # type: ignore[call-overload]
        with self._database.read() as session:
            return [Entry(*row) for row in session.exec(rows.order_by(col(FactTable.number)))]

    def ledger_lines(self, numbers: Sequence[int]) -> Iterator[Line]:
        """These facts as they are chained, in order. Read in pages: the ledger only ever grows at its end."""
        asked = iter(sorted(numbers))
        while page := list(islice(asked, PAGE)):
            yield from self._page(page)

    def _page(self, numbers: list[int]) -> list[Line]:
        rows = select(FactTable).where(col(FactTable.number).in_(numbers)).order_by(col(FactTable.number))
        with self._database.read() as session:
            return [line_of(row) for row in session.exec(rows)]
