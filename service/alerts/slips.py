"""Bells taken back before anybody dipped: what is said to those who got them. Pure.

A bell rings inside its fire limit and is taken back outside its clear limit (`conditions`). Each ring is taken back
once at most, since what is taken back can only ring anew; between the limits nothing is said.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from service.alerts import messages
from service.alerts.conditions import READINESS, Condition, about_mould, for_demo
from service.alerts.decide import told_at, told_to
from service.alerts.keys import extra_of, moment, subject_of
from service.alerts.kinds import Echo, Kind
from service.alerts.messages import Scene, Told
from service.records.outbox import AlertRow
from service.room.views import Board, MouldNow, Stage

WAITS = {Stage.DRYING: Kind.NEXT_DIP, Stage.FINAL_DRY: Kind.DEWAX}


def slips(
    board: Board, conditions: Sequence[Condition], open_alerts: Sequence[AlertRow]
) -> Mapping[str, Condition | None]:
    """What is to be said of bells that rang too soon, by the key of the alert.

    None: nothing is said, and the alert stays open. So stays a bell as long as nobody knows any more when the coat is
    ready, or while a corrected dip has it between the limits; and a put-off message until its coat rings anew.
    """
    moulds = {mould.id: mould for mould in board.moulds if mould.stage in WAITS}
    rung = {(row.mould_id, row.kind) for row in open_alerts if _is_bell(row)}
    found: dict[str, Condition | None] = {}
    for row in open_alerts:
        mould = moulds.get(row.mould_id or 0)
        if mould is None or not _same_coat(row, mould):
            continue
        near = [c for c in conditions if c.mould_id == mould.id and c.kind is WAITS[mould.stage]]
        if row.kind == Echo.PUT_OFF:
            found.update(_still_off(row, near, (mould.id, WAITS[mould.stage]) in rung))
        elif _is_bell(row) and row.kind == WAITS[mould.stage]:
            found.update(_taken_back(row, mould, near, board))
    return found


def _is_bell(row: AlertRow) -> bool:
    return row.kind in READINESS and extra_of(row.key) is None


def _same_coat(row: AlertRow, mould: MouldNow) -> bool:
    return subject_of(row.key)[1:2] == [str(mould.next_coat or mould.coats_total + 1)]


def _still_off(row: AlertRow, near: Iterable[Condition], rung: bool) -> dict[str, Condition | None]:
    return {} if rung or any(c.firing for c in near) else {row.key: None}


def _taken_back(
    row: AlertRow, mould: MouldNow, near: Sequence[Condition], board: Board
) -> dict[str, Condition | None]:
    """Nothing, where the bell rings as it did, where it rings for another reason, or where nobody heard it."""
    told = told_at(row)
    if told is None or any(c.firing or c.key == row.key.partition("#")[0] for c in near):
        return {}
    damp = felt_damp_since(row, mould)
    if not damp and (near or not _is_known(mould)):
        return {row.key: None}
    return {row.key: _said(row, told, mould, damp, board)}


def felt_damp_since(row: AlertRow, mould: MouldNow) -> bool:
    """Whether a hand felt it damp after this bell."""
    return mould.felt_damp_at is not None and moment(mould.felt_damp_at) not in subject_of(row.key)[3:]


def _is_known(mould: MouldNow) -> bool:
    """Whether anything is known of when it is ready, if only that it is not within the days looked ahead."""
    reckoned = bool(mould.zones) and not (mould.unworkable or mould.from_notebook)
    return mould.due_at is not None or mould.never is not None or reckoned


def _said(row: AlertRow, told: datetime, mould: MouldNow, damp: bool, board: Board) -> Condition:
    scene = Scene(board.site, board.at, {room.room.id: room for room in board.rooms})
    before = Told(tuple(told_to(row)), told, row.since)
    message = messages.put_off_message(mould, before, damp, scene)
    said = about_mould(WAITS[mould.stage], mould, mould.due_at, False, message)
    return for_demo(said) if board.demo else said
