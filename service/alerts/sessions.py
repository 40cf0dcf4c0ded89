"""What is dipped next, tank by tank, in dipping order. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from service.alerts.dipping_order import A_DIP, dipping_order
from service.room.views import MouldNow, Session, Stage

AT_THE_TANK = (Stage.TO_DIP, Stage.TO_WIRE, Stage.READY)


@dataclass(frozen=True, slots=True)
class _Dip:
    """A mould as `dipping_order` sees it."""

    mould_id: int
    key: str
    subject: str
    since: datetime | None
    dip_before: datetime | None
    tank: str | None


def sessions(moulds: Sequence[MouldNow], now: datetime) -> tuple[Session, ...]:
    """All that is due at the tanks; if nothing is, what comes first and what can be dipped along with it."""
    due = [m for m in moulds if m.stage in AT_THE_TANK] or _first_to_come(moulds)
    order = dipping_order([_dip(m) for m in due], now)
    runs = groupby(order, key=lambda dip: dip.tank)
    return tuple(Session(tank, tuple(dip.mould_id for dip in run)) for tank, run in runs)


def _first_to_come(moulds: Sequence[MouldNow]) -> list[MouldNow]:
    """The first, and those that get ready for the same tank while it is dipped."""
    coming = [(m.due_at, m) for m in moulds if m.stage is Stage.DRYING and m.due_at is not None]
    if not coming:
        return []
    soonest, first = min(coming, key=lambda pair: (pair[0], pair[1].id))
    return [m for at, m in coming if m.next_tank == first.next_tank and at <= soonest + A_DIP]


def _dip(mould: MouldNow) -> _Dip:
    return _Dip(mould.id, str(mould.id), mould.name, mould.due_at, mould.longest_wait_until, mould.next_tank)
