"""What was worked out of a mould's whole life. A cache: dropped, it is worked out again from facts and air."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import col, select

from service.records.base_store import BaseStore
from service.records.ledger_writer import mould_must_exist
from service.records.tables import WorkedOutTable
from service.records.utc import in_utc

AT_A_TIME = 50


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """`fact_number`: the newest fact of the mould it was made from. `method`: the way it was made."""

    mould_id: int
    fact_number: int
    method: str
    at: datetime
    found: Mapping[str, Any]


class WorkedOutStore(BaseStore):
    def save_worked_out(self, worked_out: WorkedOut) -> None:
        """Keep it, in the place of what was kept of that mould. `found` must be plain JSON. Raises NotFound."""
        row = WorkedOutTable(
            mould_id=worked_out.mould_id,
            fact_number=worked_out.fact_number,
            method=worked_out.method,
            at=in_utc(worked_out.at),
            blob=json.dumps(worked_out.found, allow_nan=False),
        )
        with self._database.write(durable=False) as session:
            mould_must_exist(session, worked_out.mould_id)
            session.merge(row)

    def worked_out(self, mould_id: int) -> WorkedOut | None:
        with self._database.read() as session:
            row = session.get(WorkedOutTable, mould_id)
            return _worked_out(row) if row else None

    def each_worked_out(self, method: str) -> Iterator[WorkedOut]:
        """What was worked out in this way, one after the other: all of it at once would fill a small machine."""
        rows = select(WorkedOutTable).where(WorkedOutTable.method == method)
        with self._database.read() as session:
            for row in session.exec(rows.execution_options(yield_per=AT_A_TIME)):
                yield _worked_out(row)
                session.expunge(row)

    def all_worked_out(self, method: str) -> dict[int, WorkedOut]:
        """By mould, what was worked out in this way."""
        rows = (
            select(WorkedOutTable)
            .where(WorkedOutTable.method == method)
            .order_by(col(WorkedOutTable.mould_id))
        )
        with self._database.read() as session:
            return {row.mould_id: _worked_out(row) for row in session.exec(rows)}


def _worked_out(row: WorkedOutTable) -> WorkedOut:
    return WorkedOut(row.mould_id, row.fact_number, row.method, row.at, json.loads(row.blob))
