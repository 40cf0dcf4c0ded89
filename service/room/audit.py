"""A mould's life, coat by coat: what was asked, what was given, and what the air did to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from service.drying.history import Stretch
from service.drying.isotherm import Array
from service.records.facts import DipBody, Fact
from service.records.recipes import CoatStep
from service.room.air_book import RoomAir
from service.room.air_faults import air_faults, within_wait
from service.room.progress import Progress
from service.room.views import AirFault, CoatAudit, DrynessPoint

POINTS_A_COAT = 40
WORKED_OUT_TWICE = 0.005
"""Minute by minute on the day, or in one go afterwards, the saturation differs by no more than this."""


@dataclass(frozen=True)
class _Wait:
    """One coat's wait in every zone, from its dip to the next dip (or to the end)."""

    dip: Fact
    until_s: float
    stretches: tuple[Stretch, ...]
    followed: bool

    @property
    def start_s(self) -> float:
        return self.dip.at.timestamp()

    @property
    def slowest(self) -> Stretch:
        return max(self.stretches, key=_lateness)


def _lateness(stretch: Stretch) -> tuple[float, float]:
    ready_s = stretch.dried.ready_s
    return (float("inf") if ready_s is None else ready_s, stretch.dried.state.newest_saturation)


def coat_audits(
    p: Progress, played: Sequence[tuple[Stretch, ...]], air: RoomAir | None, until_s: float
) -> tuple[CoatAudit, ...]:
    """One entry for each coat asked or given; `played` is empty where the air was never measured."""
    waits = _waits(p, played, until_s)
    number = max(p.coats_total, p.coats_given)
    return tuple(_coat(p, coat, waits, air) for coat in range(1, number + 1))


def dryness_chart(
    p: Progress, played: Sequence[tuple[Stretch, ...]], air: RoomAir | None, until_s: float
) -> tuple[DrynessPoint, ...]:
    """The slowest zone through all its waits, with the room's air where it was measured."""
    if not played:
        return ()
    rows = np.concatenate([_thinned(wait.slowest.dried.path) for wait in _waits(p, played, until_s)])
    return tuple(_point(row, air) for row in rows)


def _waits(p: Progress, played: Sequence[tuple[Stretch, ...]], until_s: float) -> list[_Wait]:
    ends = [dip.at.timestamp() for dip in p.dips[1:]] + [until_s]
    return [
        _Wait(dip, ends[i], tuple(zone[i] for zone in played), i + 1 < len(p.dips))
        for i, dip in enumerate(p.dips)
    ]


def _coat(p: Progress, coat: int, waits: list[_Wait], air: RoomAir | None) -> CoatAudit:
    asked = p.recipe.coats[coat - 1] if coat <= p.coats_total else None
    wait = waits[coat - 1] if coat <= len(waits) else None
    body = wait.dip.body if wait and isinstance(wait.dip.body, DipBody) else None
    next_body = waits[coat].dip.body if coat < len(waits) else None
    ready = _ready_at(wait, asked)
    temperature, humidity = _ranges(wait, air)
    return CoatAudit(
        coat=coat,
        kind_asked=asked.kind if asked else None,
        kind_given=body.coat_kind if body else None,
        tank_asked=asked.tank if asked else None,
        tank_given=body.tank if body else None,
        hand=wait.dip.hand if wait else None,
        dipped_at=wait.dip.at if wait else None,
        ready_at=ready,
        waited_s=wait.until_s - wait.start_s if wait else None,
        saturation_at_next_dip=_saturation(wait),
        early=_early(wait, ready),
        early_reason=next_body.early_reason if isinstance(next_body, DipBody) else None,
        late=_late(wait, asked) and not p.body.from_notebook,
        temperature_range_k=temperature,
        humidity_range=humidity,
        air_gap_s=_gap_s(wait, air),
        air_faults=_air_faults(p, wait, air),
        wires_asked=p.recipe.wires_after(coat),
        wires_given=p.wired(coat),
    )


def _ready_at(wait: _Wait | None, asked: CoatStep | None) -> datetime | None:
    """When every zone was at its limit and the least wait was over; None if that did not come."""
    if wait is None or not wait.stretches:
        return None
    times = [_ready_s(stretch, wait) for stretch in wait.stretches]
    known = [t for t in times if t is not None]
    if len(known) < len(times):
        return None
    least = wait.start_s + (asked.least_wait_s if asked else 0.0)
    return datetime.fromtimestamp(max(*known, least), UTC)


def _ready_s(stretch: Stretch, wait: _Wait) -> float | None:
    """A zone so near its limit when the next coat went on that the bell of the day may have rung was ready then."""
    dried, limit = stretch.dried, stretch.dip.limits.ready_saturation
    if dried.ready_s is None and wait.followed and dried.state.newest_saturation <= limit + WORKED_OUT_TWICE:
        return wait.until_s
    return dried.ready_s


def _saturation(wait: _Wait | None) -> float | None:
    if wait is None or not wait.followed or not wait.stretches:
        return None
    return max(s.dried.state.newest_saturation for s in wait.stretches)


def _early(wait: _Wait | None, ready: datetime | None) -> bool:
    if wait is None or not wait.followed or not wait.stretches:
        return False
    return ready is None or wait.until_s < ready.timestamp()


def _late(wait: _Wait | None, asked: CoatStep | None) -> bool:
    if wait is None or asked is None or asked.longest_wait_s is None:
        return False
    return wait.until_s - wait.start_s > asked.longest_wait_s


def _ranges(
    wait: _Wait | None, air: RoomAir | None
) -> tuple[tuple[float, float] | None, tuple[float, float] | None]:
    """Range of temperature and of humidity over a wait, of measured air alone."""
    if wait is None or air is None:
        return None, None
    inside = within_wait(air, wait.start_s, wait.until_s)
    if not inside.any():
        return None, None
    temperature, humidity = air.series.temperature_k[inside], air.series.humidity[inside]
    return (float(temperature.min()), float(temperature.max())), (
        float(humidity.min()),
        float(humidity.max()),
    )


def _air_faults(p: Progress, wait: _Wait | None, air: RoomAir | None) -> tuple[AirFault, ...]:
    if wait is None or air is None or not isinstance(wait.dip.body, DipBody):
        return ()
    limits, first_dip_s = p.recipe.air_for(wait.dip.body.coat_kind), p.dips[0].at.timestamp()
    return air_faults(limits, air, first_dip_s, wait.start_s, wait.until_s)


def _gap_s(wait: _Wait | None, air: RoomAir | None) -> float:
    if wait is None:
        return 0.0
    if air is None:
        return wait.until_s - wait.start_s
    return air.gap_s(wait.start_s, wait.until_s)


def _thinned(path: Array) -> Array:
    """At most POINTS_A_COAT rows, the first and last among them."""
    if len(path) <= POINTS_A_COAT:
        return path
    rows: Array = path[np.unique(np.linspace(0, len(path) - 1, POINTS_A_COAT).astype(int))]
    return rows


def _point(row: Array, air: RoomAir | None) -> DrynessPoint:
    time_s, newest, share, _ = row.tolist()
    temperature = humidity = None
    if air is not None and np.interp(time_s, air.series.time_s, air.measured.astype(float)) > 0.5:
        temperature = float(np.interp(time_s, air.series.time_s, air.series.temperature_k))
        humidity = float(np.interp(time_s, air.series.time_s, air.series.humidity))
    return DrynessPoint(datetime.fromtimestamp(time_s, UTC), newest, share, temperature, humidity)
