"""What each mould taught of the shop. A cache: dropped, it is worked out again from facts and readings.

But readings are thinned out in time, and then it cannot be made as well again: what was made while they were there
is kept as long as the facts say the same.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import select

from service.records.base_store import BaseStore
from service.records.ledger_writer import mould_must_exist
from service.records.tables import TaughtTable
from service.records.utc import in_utc

AT_A_TIME = 50


@dataclass(frozen=True, slots=True)
class Taught:
    """`fact_number`: the newest fact of the mould it was made from. `method`: the way it was made."""

    mould_id: int
    fact_number: int
    method: str
    at: datetime
    found: Mapping[str, Any]


class TaughtStore(BaseStore):
    def save_taught(self, taught: Taught) -> None:
        """Keep it, in the place of what was kept of that mould. `found` must be plain JSON. Raises NotFound."""
        row = TaughtTable(
            mould_id=taught.mould_id,
            fact_number=taught.fact_number,
            method=taught.method,
            at=in_utc(taught.at),
            blob=json.dumps(taught.found, allow_nan=False),
        )
        with self._database.write(durable=False) as session:
            mould_must_exist(session, taught.mould_id)
            session.merge(row)

    def taught(self, mould_id: int) -> Taught | None:
        with self._database.read() as session:
            row = session.get(TaughtTable, mould_id)
            return _taught(row) if row else None

    def each_taught(self, method: str) -> Iterator[Taught]:
        """What every mould taught, made in this way, one after the other."""
        rows = select(TaughtTable).where(TaughtTable.method == method)
        with self._database.read() as session:
            for row in session.exec(rows.execution_options(yield_per=AT_A_TIME)):
                yield _taught(row)
                session.expunge(row)

    def drop_taught(self, mould_id: int) -> None:
        with self._database.write(durable=False) as session:
            row = session.get(TaughtTable, mould_id)
            if row:
                session.delete(row)


def _taught(row: TaughtTable) -> Taught:
    return Taught(row.mould_id, row.fact_number, row.method, row.at, json.loads(row.blob))
