"""Many zones dried at once, each on its own clock and with its own steps.

Finite volumes across the shell, outermost cell first, and one surface temperature a zone; `rosenbrock` makes the step.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.drying.rates import Derivative, Shells, Slope
from service.drying.rosenbrock import State, rosenbrock_step
from service.drying.shell import CELLS_PER_COAT, Numbers
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

FIRST_STEP_S = 5.0
LONGEST_STEP_S = 3600.0
LONGEST_STEADY_STEP_S = 3 * 3600.0
"""In air that never changes there is no swing to step over; longer still, the approach to a limit gets ragged."""
SHORTEST_STEP_S = 1e-4
SATURATION_TOLERANCE = 2.5e-3
BELOW_DRY, ABOVE_FULL = 1e-6, 1e-3
"""How far rounding, and a step that ends in dew, may take the face out of 0..1 at once."""
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
    run = _Run(states, np.asarray(until_s, float), air, parameters, limits, stop_when_dry)
    run.to_the_end()
    return run.results()


def _check(states: Sequence[ZoneState], until_s: Sequence[float]) -> None:
    if any(not state.coats for state in states):
        raise ValueError("a zone without a coat cannot dry")
    if any(end < state.time_s for state, end in zip(states, until_s, strict=True)):
        raise ValueError("a zone cannot be dried backwards")


class _Run:
    """A batch on its way: zones that have arrived are taken out so that the rest go faster."""

    def __init__(
        self,
        states: Sequence[ZoneState],
        until_s: Array,
        air: AirSeries,
        parameters: Numbers,
        limits: Sequence[Limits],
        stop_when_dry: bool,
    ) -> None:
        self.starts, self.until_s, self.air, self.stop_when_dry = list(states), until_s, air, stop_when_dry
        self.shells = Shells(states, parameters)
        self.number = np.arange(len(states))
        self.time_s = np.array([s.time_s for s in states])
        self.state = State(
            np.array([s.surface_k for s in states]),
            self.shells.padded([s.saturation for s in states], 0.0),
            np.array([s.evaporated_kg_m2 for s in states]),
        )
        self.step_s = np.full(len(states), FIRST_STEP_S)
        self.longest_s = LONGEST_STEP_S if air.time_s.size > 1 else LONGEST_STEADY_STEP_S
        self.ready_limit = np.array([limit.ready_saturation for limit in limits])
        self.dry_limit = np.array([limit.water_share for limit in limits])
        self.ready_s = np.where(self._newest(self.state) <= self.ready_limit, self.time_s, np.nan)
        self.dry_s = np.where(self._share(self.state) <= self.dry_limit, self.time_s, np.nan)
        self.coldest_k = self.state.surface.copy()
        self.paths: list[list[Array]] = [[] for _ in states]
        self.done: dict[int, Dried] = {}
        self._note(np.ones(len(states), bool))

    def _newest(self, state: State) -> Array:
        out: Array = state.saturation[:CELLS_PER_COAT].mean(axis=0)
        return out

    def _share(self, state: State) -> Array:
        out: Array = (state.saturation * self.shells.water_weight).sum(axis=0) / self.shells.dry_kg_m2
        return out

    def to_the_end(self) -> None:
        self._retire()
        # A step much too long may overflow; it is refused and made again, shorter.
        with np.errstate(over="ignore", invalid="ignore"):
            while self.number.size:
                self._advance()
                self._retire()

    def _advance(self) -> None:
        step = np.minimum(self.step_s, self.until_s - self.time_s)
        derivative = Derivative(self.shells, self.air.mean(self.time_s, self.time_s + step))
        new, error, slope = rosenbrock_step(derivative, self.state, step)
        size = _error_size(error)
        taken = (size <= 1.0) & _possible(self.state.saturation[0], new.saturation[0])
        _refuse_to_hang(taken, self.step_s)
        self._find_limits(new, slope, step, taken)
        self._take(new, step, taken)
        grow = np.clip(0.85 / np.sqrt(np.maximum(size, 1e-4)), 0.2, 3.0)
        # A zone cut short by its end keeps the step it would have made.
        grown = np.where(taken, np.maximum(self.step_s, step * grow), step * np.minimum(grow, 0.5))
        clipped = step < self.step_s
        self.step_s = np.minimum(np.where(taken & ~clipped, step * grow, grown), self.longest_s)

    def _find_limits(self, new: State, slope: Slope, step: Array, taken: Mask) -> None:
        """Where in this step a limit was reached, on the parabola through both ends and the first slope."""
        weight = self.shells.water_weight / self.shells.dry_kg_m2
        first = slope.saturation[:CELLS_PER_COAT].mean(axis=0)
        self._cross(
            self.ready_s, self._newest(self.state), self._newest(new), first, self.ready_limit, step, taken
        )
        all_of_it = (slope.saturation * weight).sum(axis=0)
        self._cross(
            self.dry_s, self._share(self.state), self._share(new), all_of_it, self.dry_limit, step, taken
        )

    def _cross(
        self, found: Array, start: Array, end: Array, slope: Array, limit: Array, step: Array, taken: Mask
    ) -> None:
        if not self.stop_when_dry:
            found[taken & (end > limit)] = np.nan
        hit = taken & np.isnan(found) & (end <= limit)
        if bool(hit.any()):
            part = _crossing(start[hit], end[hit], slope[hit] * step[hit], limit[hit])
            found[hit] = self.time_s[hit] + part * step[hit]

    def _take(self, new: State, step: Array, taken: Mask) -> None:
        self.state = State(*(np.where(taken, n, old) for n, old in zip(new, self.state, strict=True)))
        reached = taken & (step >= self.until_s - self.time_s)
        self.time_s = np.where(reached, self.until_s, np.where(taken, self.time_s + step, self.time_s))
        self.coldest_k = np.minimum(self.coldest_k, self.state.surface)
        self._note(taken)

    def _note(self, taken: Mask) -> None:
        by_coat = self.state.saturation.reshape(-1, CELLS_PER_COAT, self.number.size).mean(axis=1)
        rows = np.stack(
            [self.time_s, self._newest(self.state), self._share(self.state), self.state.surface, *by_coat],
            axis=1,
        )
        for i in np.flatnonzero(taken):
            self.paths[self.number[i]].append(rows[i])

    def _retire(self) -> None:
        arrived = self.time_s >= self.until_s
        if self.stop_when_dry:
            arrived |= ~np.isnan(self.ready_s) & ~np.isnan(self.dry_s)
        if not bool(arrived.any()):
            return
        for i in np.flatnonzero(arrived):
            self.done[int(self.number[i])] = self._result(int(i))
        self._keep(~arrived)

    def _result(self, i: int) -> Dried:
        start = self.starts[self.number[i]]
        state = replace(
            start,
            time_s=float(self.time_s[i]),
            surface_k=float(self.state.surface[i]),
            saturation=self.state.saturation[: start.saturation.size, i].copy(),
            evaporated_kg_m2=float(self.state.evaporated[i]),
        )
        return Dried(
            state,
            _or_none(self.ready_s[i]),
            _or_none(self.dry_s[i]),
            float(self.coldest_k[i]),
            _path(self.paths[self.number[i]], len(start.coats)),
        )

    def _keep(self, keep: Mask) -> None:
        self.shells = self.shells.only(keep)
        self.state = State(*(value[..., keep] for value in self.state))
        for name in (
            "number",
            "time_s",
            "until_s",
            "step_s",
            "ready_limit",
            "dry_limit",
            "ready_s",
            "dry_s",
            "coldest_k",
        ):
            setattr(self, name, getattr(self, name)[keep])

    def results(self) -> list[Dried]:
        return [self.done[i] for i in range(len(self.starts))]


def _path(rows: Sequence[Array], coats: int) -> Array:
    """Its own coats, innermost first: in the batch they lie outermost first, filled up to the most of any zone."""
    every = np.array(rows)
    return np.concatenate([every[:, :4], every[:, 4 : 4 + coats][:, ::-1]], axis=1)


def _possible(before: Array, after: Array) -> Mask:
    """Whether the face is as wet as a face can be, but for a little."""
    low, high = np.minimum(before, 0.0) - BELOW_DRY, np.maximum(before, 1.0) + ABOVE_FULL
    out: Mask = (after >= low) & (after <= high)
    return out


def _refuse_to_hang(taken: Mask, step_s: Array) -> None:
    if bool((~taken & (step_s < SHORTEST_STEP_S)).any()):
        raise FloatingPointError("the drying of a zone could not be worked out: no step is short enough")


def _error_size(error: State) -> Array:
    """Largest error against its tolerance, a zone; above 1 the step is made again, smaller."""
    inside = np.abs(error.saturation).max(axis=0) / SATURATION_TOLERANCE
    size: Array = np.maximum(inside, np.abs(error.surface) / TEMPERATURE_TOLERANCE_K)
    return np.where(np.isfinite(size), size, 1e4)


def _crossing(start: Array, end: Array, rise: Array, limit: Array) -> Array:
    """The part (0..1) of a step at which start + rise p + (end - start - rise) p^2 first falls to `limit`."""
    bend = end - start - rise
    root = np.sqrt(np.maximum(rise * rise - 4.0 * bend * (start - limit), 0.0))
    part = 2.0 * (start - limit) / np.where(root > rise, root - rise, np.inf)
    straight = (start - limit) / np.maximum(start - end, 1e-300)
    return np.clip(np.where((part >= 0.0) & (part <= 1.0), part, straight), 0.0, 1.0)


def _or_none(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
