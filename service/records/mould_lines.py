"""One short line a mould that left the shell room: enough for a list, without its life being played back."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, func, select

from service.records.base_store import BaseStore
from service.records.ledger_asked import holds
from service.records.tables import FactTable


@dataclass(frozen=True, slots=True)
class MouldLine:
    """A mould that left. `coats_total`: as its recipe asks; `verdict`: None while nobody has told how it came out."""

    id: int
    name: str
    piece: str
    customer: str
    outcome: str
    started_at: datetime
    ended_at: datetime
    coats_given: int
    coats_total: int
    verdict: str | None = None
    faults: tuple[str, ...] = ()

    @property
    def came_out(self) -> str:
        """``sound``, ``failed: run-out; fin``; empty while nobody has told."""
        said = f": {'; '.join(self.faults)}" if self.faults else ""
        return f"{self.verdict}{said}" if self.verdict else ""


class MouldLineStore(BaseStore):
    def mould_lines(self, mould_ids: Sequence[int] | None = None) -> list[MouldLine]:
        """Those that left the shell room; only of these, if named (not more than a few hundred)."""
        with self._database.read() as session:
            ended = {row[0]: row for row in _held(session, "ended", mould_ids)}
            hung = {row[0]: row for row in _held(session, "mould", mould_ids)}
            told = {row[0]: json.loads(row[2]) for row in _held(session, "result", mould_ids)}
            began, dips = _began(session, mould_ids), _dips(session, mould_ids)
        return [
            _line(hung[mould_id], left, began[mould_id], dips.get(mould_id, 0), told.get(mould_id, {}))
            for mould_id, left in ended.items()
            if mould_id in hung
        ]


def _of(mould_ids: Sequence[int] | None) -> list[Any]:
    return [] if mould_ids is None else [col(FactTable.mould_id).in_(mould_ids)]


def _held(session: Session, kind: str, mould_ids: Sequence[int] | None) -> Sequence[Any]:
    """Mould, instant and body of the facts of a kind that hold now."""
    what = select(FactTable.mould_id, FactTable.at, FactTable.body)
    return session.exec(what.where(FactTable.kind == kind, holds(), *_of(mould_ids))).all()


def _began(session: Session, mould_ids: Sequence[int] | None) -> dict[int, datetime]:
    """When each was hung up, as first said."""
    what = select(FactTable.mould_id, FactTable.at).where(FactTable.kind == "mould", *_of(mould_ids))
    rows = session.exec(what.order_by(col(FactTable.number).desc())).all()
    return {mould_id: at for mould_id, at in rows if mould_id is not None}


def _dips(session: Session, mould_ids: Sequence[int] | None) -> dict[int, int]:
    what = select(FactTable.mould_id, func.count()).where(FactTable.kind == "dip", holds(), *_of(mould_ids))
    rows = session.exec(what.group_by(col(FactTable.mould_id))).all()
    return {mould_id: count for mould_id, count in rows if mould_id is not None}


def _line(hung: Any, left: Any, began: datetime, dips: int, told: dict[str, Any]) -> MouldLine:
    mould_id, _, body = hung
    known = json.loads(body)
    return MouldLine(
        id=mould_id,
        name=known["name"],
        piece=known["piece"],
        customer=known["customer"],
        outcome=json.loads(left[2])["outcome"],
        started_at=began,
        ended_at=left[1],
        coats_given=dips,
        coats_total=sum(step["step"] == "coat" for step in known["recipe"]["steps"]),
        verdict=told.get("verdict"),
        faults=tuple(failing["fault"] for failing in told.get("failings", ())),
    )
