"""What is dipped next, tank by tank, in dipping order. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from service.alerts.dipping_order import A_DIP, dipping_order
from service.room.views import MouldNow, Session, Stage

AT_THE_TANK = (Stage.TO_DIP, Stage.TO_WIRE, Stage.READY)


@dataclass(frozen=True, slots=True)
class _Dip:
    """A mould as `dipping_order` sees it."""

    mould: MouldNow

    @property
    def key(self) -> str:
        return str(self.mould.id)

    @property
    def subject(self) -> str:
        return self.mould.name

    @property
    def since(self) -> datetime | None:
        return self.mould.due_at

    @property
    def dip_before(self) -> datetime | None:
        return self.mould.longest_wait_until

    @property
    def tank(self) -> str | None:
        return self.mould.next_tank


def due_at_tanks(moulds: Iterable[MouldNow]) -> list[MouldNow]:
    """Those a hand at a tank can take now, wires first or not."""
    return [mould for mould in moulds if mould.stage in AT_THE_TANK]


def in_dipping_order(moulds: Iterable[MouldNow], now: datetime) -> list[MouldNow]:
    """The same moulds as they are best dipped."""
    return [dip.mould for dip in dipping_order([_Dip(mould) for mould in moulds], now)]


def sessions(moulds: Sequence[MouldNow], now: datetime) -> tuple[Session, ...]:
    """All that is due at the tanks; if nothing is, what comes first and what can be dipped along with it."""
    due = due_at_tanks(moulds) or _first_to_come(moulds)
    runs = groupby(in_dipping_order(due, now), key=lambda mould: mould.next_tank)
    return tuple(Session(tank, tuple(mould.id for mould in run)) for tank, run in runs)


def _first_to_come(moulds: Sequence[MouldNow]) -> list[MouldNow]:
    """The first, and those that get ready for the same tank while it is dipped."""
    coming = [(m.due_at, m) for m in moulds if m.stage is Stage.DRYING and m.due_at is not None]
    if not coming:
        return []
    soonest, first = min(coming, key=lambda pair: (pair[0], pair[1].id))
    return [m for at, m in coming if m.next_tank == first.next_tank and at <= soonest + A_DIP]
