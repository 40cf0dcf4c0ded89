"""Many shells dried at once, each on its own clock and with its own steps.

Finite volumes across the shell, outermost cell first, and one surface temperature a column; `rosenbrock` makes a step.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from service.drying.batch import Shells
from service.drying.rates import FIRST_GUESS, Derivative, Work
from service.drying.rosenbrock import State, Step, rosenbrock_step
from service.drying.shell import CELLS_PER_COAT
from service.drying.weather import Air

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Numbers = NDArray[np.intp]

SHORTEST_STEP_S = 1e-4
BELOW_DRY, ABOVE_FULL = 1e-6, 1e-3
"""How far rounding, and a step that ends in dew, may take the face out of 0..1 at once."""
ARRIVED_SHARE = 8
"""Columns that have arrived are taken out once they are one in so many: it costs a copy of all the others."""


@dataclass(frozen=True)
class Pace:
    """How long steps may be, and how large the error of one: of a coat's mean saturation, and of the surface."""

    first_s: float
    longest_s: float
    saturation: float
    temperature_k: float


class Weather(Protocol):
    """The mean air over each column's step."""

    def __call__(self, start_s: Array, end_s: Array, columns: Numbers) -> Air: ...


Note = Callable[["March", Mask], None]
"""Told of every step: which columns took it."""


class Way(NamedTuple):
    """From when to when each column is dried, and what is waited for, (columns,) each."""

    start_s: Array
    until_s: Array
    ready_saturation: Array
    water_share: Array


PER_COLUMN = (
    "number",
    "time_s",
    "until_s",
    "step_s",
    "ready_limit",
    "dry_limit",
    "ready_s",
    "dry_s",
    "coldest_k",
    "newest",
    "share",
    "activity",
)


class March:
    """A batch on its way: columns that have arrived are taken out so that the rest go faster."""

    def __init__(
        self, shells: Shells, state: State, way: Way, weather: Weather, pace: Pace, stop_when_dry: bool
    ) -> None:
        self.shells, self.state, self.weather, self.pace = shells, state, weather, pace
        self.stop_when_dry = stop_when_dry
        self.work = Work(shells.cells, state.surface)
        self.number = np.arange(way.start_s.size)
        self.time_s, self.until_s = way.start_s.copy(), way.until_s
        self.step_s = np.full(self.number.size, pace.first_s)
        self.ready_limit, self.dry_limit = way.ready_saturation, way.water_share
        self.newest, self.share = self._newest(state.saturation), self._share(state.saturation)
        self.ready_s = np.where(self.newest <= self.ready_limit, self.time_s, np.nan)
        self.dry_s = np.where(self.share <= self.dry_limit, self.time_s, np.nan)
        self.coldest_k = state.surface.copy()
        self.activity = np.full_like(self.coldest_k, FIRST_GUESS)
        self.done = Arrived.nowhere(state)

    def _newest(self, saturation: Array) -> Array:
        out: Array = saturation[:CELLS_PER_COAT].mean(axis=0).astype(np.float64)
        return out

    def _share(self, saturation: Array) -> Array:
        water = np.einsum("ij,ij->j", saturation, self.shells.water_weight)
        out: Array = (water / self.shells.dry_kg_m2).astype(np.float64)
        return out

    def to_the_end(self, note: Note | None = None) -> Arrived:
        self._retire()
        # A step much too long may overflow; it is refused and made again, shorter.
        with np.errstate(over="ignore", invalid="ignore"):
            while self.number.size:
                taken = self._advance()
                if note:
                    note(self, taken)
                self._retire()
        return self.done

    def _advance(self) -> Mask:
        left_s = self.until_s - self.time_s
        going = self._going()
        step = np.where(going, np.minimum(self.step_s, left_s), SHORTEST_STEP_S)
        precise = step.astype(self.state.rows.dtype)
        air = self.weather(self.time_s, self.time_s + step, self.number)
        air = Air(*(value.astype(precise.dtype, copy=False) for value in air))
        derivative = Derivative(self.shells, air, self.activity, self.work)
        made = rosenbrock_step(derivative, self.state, precise)
        size = self._error_size(made.error)
        possible = _possible(self.state.saturation[0], made.new.saturation[0])
        taken = going & (size <= 1.0) & possible
        _refuse_to_hang(going & ~taken, self.step_s)
        self._take(made, step, taken)
        self.activity = np.where(taken, derivative.activity, self.activity)
        self.time_s = np.where(
            taken & (step >= left_s), self.until_s, np.where(taken, self.time_s + step, self.time_s)
        )
        self._adapt(step, size, taken)
        return taken

    def _going(self) -> Mask:
        going: Mask = self.time_s < self.until_s
        if self.stop_when_dry:
            going &= np.isnan(self.ready_s) | np.isnan(self.dry_s)
        return going

    def _error_size(self, error: Array) -> Array:
        """Largest error against its tolerance, a column; above 1 the step is made again, smaller.

        A coat's cells count together: a dry face follows every breath of the air, and nobody asks for it alone.
        """
        coats = error[1:].reshape(-1, CELLS_PER_COAT, error.shape[1]).mean(axis=1)
        inside = np.abs(coats, out=coats).max(axis=0) / self.pace.saturation
        size: Array = np.maximum(inside, np.abs(error[0]) / self.pace.temperature_k)
        return np.where(np.isfinite(size), size, 1e4)

    def _adapt(self, step: Array, size: Array, taken: Mask) -> None:
        grow = np.minimum(np.maximum(0.85 / np.sqrt(np.maximum(size, 1e-4)), 0.2), 3.0)
        # A column cut short by its end keeps the step it would have made.
        grown = np.where(taken, np.maximum(self.step_s, step * grow), step * np.minimum(grow, 0.5))
        clipped = step < self.step_s
        self.step_s = np.minimum(np.where(taken & ~clipped, step * grow, grown), self.pace.longest_s)

    def _take(self, made: Step, step: Array, taken: Mask) -> None:
        new = made.new
        refused = np.flatnonzero(~taken)
        new.rows[:, refused] = self.state.rows[:, refused]
        new.evaporated[refused] = self.state.evaporated[refused]
        newest, share = self._newest(new.saturation), self._share(new.saturation)
        self._find_limits(newest, share, made, step, taken)
        self.state, self.newest, self.share = new, newest, share
        np.minimum(self.coldest_k, new.surface, out=self.coldest_k)

    def _find_limits(self, newest: Array, share: Array, made: Step, step: Array, taken: Mask) -> None:
        """Where in this step a limit was reached, on the parabola through both ends and the first slope."""
        if not self.stop_when_dry:
            self.ready_s[taken & (newest > self.ready_limit)] = np.nan
            self.dry_s[taken & (share > self.dry_limit)] = np.nan
        hit = np.flatnonzero(taken & np.isnan(self.ready_s) & (newest <= self.ready_limit))
        if hit.size:
            gain = made.newest[:, hit] / self.shells.holds[:CELLS_PER_COAT, hit]
            rise = gain.mean(axis=0)
            part = _crossing(self.newest[hit], newest[hit], rise, self.ready_limit[hit])
            self.ready_s[hit] = self.time_s[hit] + part * step[hit]
        hit = np.flatnonzero(taken & np.isnan(self.dry_s) & (share <= self.dry_limit))
        if hit.size:
            rise = -made.left[hit] / self.shells.dry_kg_m2[hit]
            part = _crossing(self.share[hit], share[hit], rise, self.dry_limit[hit])
            self.dry_s[hit] = self.time_s[hit] + part * step[hit]

    def _retire(self) -> None:
        going = self._going()
        here = np.count_nonzero(going)
        if here and (going.size - here) * ARRIVED_SHARE < going.size:
            return
        self.done.take_in(self, ~going)
        self.shells = self.shells.only(going)
        self.state = State(*(value[..., going] for value in self.state))
        self.work = Work(self.shells.cells, self.state.surface)
        for name in PER_COLUMN:
            setattr(self, name, getattr(self, name)[going])


@dataclass(frozen=True)
class Arrived:
    """Where every column of a march came to. ready_s, dry_s: nan where not at its limit."""

    state: State
    time_s: Array
    ready_s: Array
    dry_s: Array
    coldest_k: Array

    @classmethod
    def nowhere(cls, state: State) -> Arrived:
        columns = [np.full(state.evaporated.size, np.nan) for _ in range(4)]
        return cls(State(*(np.empty_like(value) for value in state)), *columns)

    def take_in(self, march: March, which: Mask) -> None:
        number = march.number[which]
        for mine, its in zip(self.state, march.state, strict=True):
            mine[..., number] = its[..., which]
        for name in ("time_s", "ready_s", "dry_s", "coldest_k"):
            getattr(self, name)[number] = getattr(march, name)[which]


def _possible(before: Array, after: Array) -> Mask:
    """Whether the face is as wet as a face can be, but for a little."""
    low, high = np.minimum(before, 0.0) - BELOW_DRY, np.maximum(before, 1.0) + ABOVE_FULL
    out: Mask = (after >= low) & (after <= high)
    return out


def _refuse_to_hang(refused: Mask, step_s: Array) -> None:
    if bool((refused & (step_s < SHORTEST_STEP_S)).any()):
        raise FloatingPointError("the drying of a zone could not be worked out: no step is short enough")


def _crossing(start: Array, end: Array, rise: Array, limit: Array) -> Array:
    """The part (0..1) of a step at which start + rise p + (end - start - rise) p^2 first falls to `limit`."""
    bend = end - start - rise
    root = np.sqrt(np.maximum(rise * rise - 4.0 * bend * (start - limit), 0.0))
    part = 2.0 * (start - limit) / np.where(root > rise, root - rise, np.inf)
    straight = (start - limit) / np.maximum(start - end, 1e-300)
    return np.clip(np.where((part >= 0.0) & (part <= 1.0), part, straight), 0.0, 1.0)
