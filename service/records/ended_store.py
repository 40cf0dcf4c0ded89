"""What is asked of all moulds that left the shell room at once: their newest fact, and how the pieces came out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import func
from sqlmodel import col, select

from service.records.base_store import BaseStore
from service.records.facts import (
    CheckBody,
    DipBody,
    EndedBody,
    FaceBody,
    Fact,
    MouldBody,
    NoteBody,
    ResultBody,
    SensorOnBody,
    WeightBody,
    WiresBody,
    WithdrawnBody,
)
from service.records.ledger_asked import holds
from service.records.ledger_writer import fact_of
from service.records.tables import FactTable

OF_ITS_MAKING = tuple(
    body.model_fields["kind"].default
    for body in (
        *(MouldBody, DipBody, WiresBody, CheckBody, WeightBody, FaceBody, SensorOnBody),
        *(EndedBody, WithdrawnBody),
    )
)
"""The kinds of facts that say how a shell was made; a note, a result or a photo changes nothing of it."""
OF_ITS_TEACHING = (
    *OF_ITS_MAKING,
    *(body.model_fields["kind"].default for body in (FaceBody, SensorOnBody, NoteBody)),
)
"""The kinds of facts that say what a mould teaches of the shop: a note may say that a coat shed."""
HUNG, ENDED, RESULT = (body.model_fields["kind"].default for body in (MouldBody, EndedBody, ResultBody))


class EndedStore(BaseStore):
    def ended_moulds(self, kinds: Sequence[str] = OF_ITS_MAKING) -> dict[int, int]:
        """By mould that left the shell room, the newest fact of its making (or of other kinds)."""
        newest = (
            select(FactTable.mould_id, func.max(FactTable.number))
            .where(
                col(FactTable.mould_id).in_(_live(ENDED)),
                col(FactTable.mould_id).in_(_live(HUNG)),
                col(FactTable.kind).in_(kinds),
            )
            .group_by(col(FactTable.mould_id))
        )
        with self._database.read() as session:
            return {mould_id: number for mould_id, number in session.exec(newest) if mould_id is not None}

    def told_since(self, number: int) -> set[tuple[str, int | None]]:
        """Of the facts after this one, the kind of each and its mould."""
        rows = select(FactTable.kind, FactTable.mould_id).where(FactTable.number > number).distinct()
        with self._database.read() as session:
            return {(kind, mould_id) for kind, mould_id in session.exec(rows)}

    def results(self) -> dict[int, Fact]:
        """By mould, the newest result that holds."""
        held = (
            select(FactTable)
            .where(FactTable.kind == RESULT, holds())
            .order_by(col(FactTable.at), col(FactTable.number))
        )
        with self._database.read() as session:
            return {fact.mould: fact for fact in map(fact_of, session.exec(held))}


def _live(kind: str) -> Any:
    """The moulds of which a fact of this kind holds."""
    return select(FactTable.mould_id).where(FactTable.kind == kind, holds())
