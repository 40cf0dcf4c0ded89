"""Keeps what a shop sets up in the browser. The newest word on each name holds; older ones stay to be looked at."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from sqlmodel import col, select

from service.records.base_store import BaseStore
from service.records.plain import name_of, storable
from service.records.set_up import Part, SetUp, newest
from service.records.tables import SetUpTable
from service.records.utc import in_utc

LONGEST_NAME, LONGEST_HAND = 200, 60


class SetUpStore(BaseStore):
    def set_up(self, part: Part) -> list[SetUp]:
        """What holds of this part, by name; what was taken away is left out."""
        return [said for said in newest(self._all(part)) if said.body is not None]

    def set_up_past(self, part: Part, name: str) -> list[SetUp]:
        """Everything ever said of a name, the newest first."""
        return [said for said in reversed(self._all(part)) if said.name == name]

    def keep_set_up(self, part: Part, name: str, body: Mapping[str, Any] | None, hand: str = "") -> SetUp:
        """Say how something is from now on; None takes it away. Raises BadInput for a name that cannot be."""
        kept = SetUpTable(
            part=part.value,
            name=name_of(name, "it", "name", longest=LONGEST_NAME),
            body=None if body is None else json.dumps(body, ensure_ascii=False, sort_keys=True),
            at=in_utc(self._clock.now()),
            hand=storable(hand, LONGEST_HAND),
        )
        with self._database.write() as session:
            session.add(kept)
            session.flush()
            return _said(kept)

    def _all(self, part: Part) -> list[SetUp]:
        asked = select(SetUpTable).where(SetUpTable.part == part.value).order_by(col(SetUpTable.id))
        with self._database.read() as session:
            return [_said(row) for row in session.exec(asked)]


def _said(row: SetUpTable) -> SetUp:
    assert row.id is not None
    body = None if row.body is None else json.loads(row.body)
    return SetUp(row.id, Part(row.part), row.name, body, row.at, row.hand)
