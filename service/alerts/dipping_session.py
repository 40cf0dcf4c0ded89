"""Several moulds dipped in one go from one tank: which are ready, in dipping order, and which are not yet. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from service.alerts.sessions import due_at_tanks, in_dipping_order
from service.records.plain import spelling
from service.room.views import MouldNow, Stage


@dataclass(frozen=True, slots=True)
class AtTank:
    """The moulds whose next coat comes from one tank. not_yet: the soonest first, those without an hour last."""

    tank: str
    ready: tuple[MouldNow, ...]
    not_yet: tuple[MouldNow, ...]

    @property
    def next_at(self) -> datetime | None:
        """When the next of those still drying is ready; None: nobody can tell, or there is none."""
        return self.not_yet[0].due_at if self.not_yet else None


def at_tank(moulds: Iterable[MouldNow], tank: str, now: datetime) -> AtTank:
    """What hangs there for this tank, however its name is spelled."""
    here = [m for m in moulds if m.next_tank is not None and spelling(m.next_tank) == spelling(tank)]
    ready = in_dipping_order(due_at_tanks(here), now)
    waiting = sorted((m for m in here if m.stage is Stage.DRYING), key=_by_hour)
    return AtTank(tank, tuple(ready), tuple(waiting))


def at_tanks(moulds: Sequence[MouldNow], tanks: Iterable[str], now: datetime) -> list[AtTank]:
    """Every tank, those from which most can be dipped now first, then by the hour."""
    asked = [m.next_tank for m in moulds if m.next_tank is not None]
    named = {spelling(tank): tank for tank in reversed([*tanks, *asked])}
    found = [at_tank(moulds, tank, now) for tank in reversed(named.values())]
    return sorted(found, key=lambda one: (-len(one.ready), one.next_at is None, one.next_at or now))


def _by_hour(mould: MouldNow) -> tuple[bool, float, str]:
    at = mould.due_at
    return at is None, at.timestamp() if at else 0.0, mould.name
