"""How wet each mould was last computed to be. A cache: dropped, it is computed again from the facts."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

from service.records.base_store import BaseStore
from service.records.ledger_writer import mould_must_exist
from service.records.tables import ProfileTable
from service.records.utc import in_utc


class ProfileStore(BaseStore):
    def save_profile(self, mould_id: int, fact_number: int, at: datetime, blob: dict[str, Any]) -> None:
        """Keep how wet a mould was computed to be at `at` from its facts up to `fact_number`. One a mould."""
        row = ProfileTable(mould_id=mould_id, fact_number=fact_number, at=in_utc(at), blob=json.dumps(blob))
        with self._database.write(durable=False) as session:
            mould_must_exist(session, mould_id)
            session.merge(row)

    def profile(self, mould_id: int) -> tuple[int, datetime, dict[str, Any]] | None:
        """Fact number, instant and content of the saved profile."""
        with self._database.read() as session:
            row = session.get(ProfileTable, mould_id)
            return (row.fact_number, row.at, json.loads(row.blob)) if row else None

    def drop_profile(self, mould_id: int) -> None:
        with self._database.write(durable=False) as session:
            row = session.get(ProfileTable, mould_id)
            if row:
                session.delete(row)
