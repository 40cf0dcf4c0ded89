"""Many zones dried at once, each on its own clock, with what happened on the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.drying.batch import padded, shells_of
from service.drying.march import Arrived, March, Mask, Pace, Way
from service.drying.rosenbrock import State
from service.drying.shell import CELLS_PER_COAT, Numbers
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState

Array = NDArray[np.float64]

FIRST_STEP_S = 5.0
LONGEST_STEP_S = 3600.0
LONGEST_STEADY_STEP_S = 3 * 3600.0
"""In air that never changes there is no swing to step over; longer still, the approach to a limit gets ragged."""
SATURATION_TOLERANCE = 1e-3
TEMPERATURE_TOLERANCE_K = 0.1


@dataclass(frozen=True)
class Dried:
    """What became of one zone. Times are instants on the zone's clock.

    ready_s, dry_s: since when it has been at its limit; None if it is above it at the end (damp air can bring it back
    there). Where the run was to stop when dry: when it first came to its limit; None if it did not.
    `path` holds the accepted steps: (n, 4 + coats) columns time_s, newest coat's saturation, water share, surface_k,
    and the saturation of each coat, innermost first.
    """

    state: ZoneState
    ready_s: float | None
    dry_s: float | None
    coldest_k: float
    path: Array


def advance(
    states: Sequence[ZoneState],
    until_s: Sequence[float],
    air: AirSeries,
    parameters: Numbers,
    limits: Sequence[Limits],
    stop_when_dry: bool = False,
) -> list[Dried]:
    """Dry each zone to its own `until_s` (or, with `stop_when_dry`, until both limits are behind it).

    Every zone must have at least one coat. Raises ValueError otherwise, or if a zone's `until_s` is in its past, or
    if parameters of each zone's own differ in more than their multipliers;
    FloatingPointError if the numbers given cannot be worked with.
    """
    if not states:
        return []
    _check(states, until_s)
    longest_s = LONGEST_STEP_S if air.time_s.size > 1 else LONGEST_STEADY_STEP_S
    pace = Pace(FIRST_STEP_S, longest_s, SATURATION_TOLERANCE, TEMPERATURE_TOLERANCE_K)
    way = _way(states, until_s, limits)
    shells = shells_of(states, parameters)
    march = March(
        shells, _state(states), way, lambda start_s, end_s, _: air.mean(start_s, end_s), pace, stop_when_dry
    )
    paths = _Paths(march)
    arrived = march.to_the_end(paths.note)
    return [_dried(states[i], i, arrived, path) for i, path in enumerate(paths.of_each(states))]


def _check(states: Sequence[ZoneState], until_s: Sequence[float]) -> None:
    if any(not state.coats for state in states):
        raise ValueError("a zone without a coat cannot dry")
    if any(end < state.time_s for state, end in zip(states, until_s, strict=True)):
        raise ValueError("a zone cannot be dried backwards")


def _way(states: Sequence[ZoneState], until_s: Sequence[float], limits: Sequence[Limits]) -> Way:
    return Way(
        np.array([state.time_s for state in states]),
        np.asarray(until_s, float),
        np.array([limit.ready_saturation for limit in limits]),
        np.array([limit.water_share for limit in limits]),
    )


def _state(states: Sequence[ZoneState]) -> State:
    columns = [np.concatenate([[state.surface_k], state.saturation]) for state in states]
    return State(padded(columns, 0.0), np.array([state.evaporated_kg_m2 for state in states]))


class _Paths:
    """The steps that each zone took."""

    def __init__(self, march: March) -> None:
        self.zones: list[NDArray[np.intp]] = []
        self.rows: list[Array] = []
        self.note(march, np.ones(march.number.size, bool))

    def note(self, march: March, taken: Mask) -> None:
        by_coat = march.state.saturation.reshape(-1, CELLS_PER_COAT, march.number.size).mean(axis=1)
        rows = np.stack([march.time_s, march.newest, march.share, march.state.surface, *by_coat], axis=1)
        self.zones.append(march.number[taken])
        self.rows.append(rows[taken])

    def of_each(self, states: Sequence[ZoneState]) -> list[Array]:
        """A zone's own coats, innermost first: in the batch they lie outermost first, filled up below."""
        zones = np.concatenate(self.zones)
        steps = np.split(
            np.concatenate(self.rows)[np.argsort(zones, kind="stable")], np.cumsum(np.bincount(zones))[:-1]
        )
        coats = [4 + len(state.coats) for state in states]
        return [
            np.concatenate([own[:, :4], own[:, 4:end][:, ::-1]], axis=1)
            for own, end in zip(steps, coats, strict=True)
        ]


def _dried(start: ZoneState, i: int, arrived: Arrived, path: Array) -> Dried:
    state = replace(
        start,
        time_s=float(arrived.time_s[i]),
        surface_k=float(arrived.state.surface[i]),
        saturation=arrived.state.saturation[: start.saturation.size, i].copy(),
        evaporated_kg_m2=float(arrived.state.evaporated[i]),
    )
    return Dried(
        state, _or_none(arrived.ready_s[i]), _or_none(arrived.dry_s[i]), float(arrived.coldest_k[i]), path
    )


def _or_none(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
