"""Bells held against the truth: how wet the coat was that they rang for, and how many hours they rang late.

The rules that know nothing of drying are tuned with hindsight, shop by shop and kind of coat by kind of coat, so that
they ring as many wet bells as the learned one and lose the fewest hours at that. Hours lost grow and wet bells get
fewer with the number a rule waits for, so the least number that rings no more wet bells is the best one. All bells are
asked of the same coats in the same state; nights are left out, since they are the same for all.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.drying.air import wet_bulb_k
from service.drying.weather import AirSeries
from tests.skill.air import deficit_pa
from tests.skill.life import Wait

Array = NDArray[np.float64]

HOUR_S = 3600.0


@dataclass(frozen=True)
class Rung:
    """Of each wait: the newest coat's saturation where it is wettest, and hours since it might have been dipped."""

    wet: Array
    lost_h: Array

    def share_above(self, saturation: float) -> float:
        return float(np.mean(self.wet > saturation + 1e-9))


@dataclass(frozen=True)
class Clock:
    """A number that grows while a coat hangs, from the air alone: hours, or what the air could have taken."""

    name: str
    time_s: Array
    total: Array

    def at(self, time_s: Array | float) -> Array:
        return np.asarray(np.interp(time_s, self.time_s, self.total))

    def when(self, total: Array) -> Array:
        return np.interp(total, self.total, self.time_s)


RATES: dict[str, Callable[[AirSeries], Array]] = {
    "hours": lambda air: np.ones(air.time_s.size),
    "deficit hours": deficit_pa,
    "deficit hours, by draught": lambda air: deficit_pa(air) * np.sqrt(air.speed_m_s),
    "wet-bulb hours": lambda air: air.temperature_k - wet_bulb_k(air.temperature_k, air.humidity),
}
"""The single numbers that are tried; "hours" is the fixed timer."""
TIMER = "hours"


def clocks(air: AirSeries) -> dict[str, Clock]:
    return {name: Clock(name, air.time_s, _sum(air.time_s, rate(air))) for name, rate in RATES.items()}


def _sum(time_s: Array, rate: Array) -> Array:
    pieces = 0.5 * (rate[1:] + rate[:-1]) * np.diff(time_s)
    return np.concatenate([[0.0], np.cumsum(np.maximum(pieces, 1e-9))])


def rung(waits: Sequence[Wait], bell_s: Array) -> Rung:
    """What bells at these instants would have met."""
    wet = np.array([np.interp(at_s, w.time_s, w.wettest) for at_s, w in zip(bell_s, waits, strict=True)])
    due_s = np.array([max(w.ready_s, w.least_s) for w in waits])
    return Rung(wet, np.maximum(bell_s - due_s, 0.0) / HOUR_S)


def by_number(waits: Sequence[Wait], clock: Clock, number: float) -> Array:
    """Instants at which `clock` has counted so far since each dip, the least waits kept."""
    dips = np.array([w.dip_s for w in waits])
    return np.maximum(clock.when(clock.at(dips) + number), [w.least_s for w in waits])


def tuned(waits: Sequence[Wait], clock: Clock, limit: float, most_wet: int) -> float:
    """The least number at which no more than so many of these coats would be wetter than `limit`."""
    needed = np.sort([_needs(w, clock, limit) for w in waits])[::-1]
    return float(needed[most_wet]) if most_wet < needed.size else 0.0


def _needs(wait: Wait, clock: Clock, limit: float) -> float:
    """What the clock must count before this coat is down to `limit`: nothing where the least wait does."""
    dry_s = _down_to(wait, limit)
    return 0.0 if dry_s <= wait.least_s else float(clock.at(dry_s) - clock.at(wait.dip_s))


def _down_to(wait: Wait, limit: float) -> float:
    under = np.flatnonzero(wait.wettest <= limit)
    n = int(under[0]) if under.size else wait.wettest.size - 1
    if n == 0:
        return float(wait.time_s[0])
    before, after = wait.wettest[n - 1], wait.wettest[n]
    part = np.clip((before - limit) / max(before - after, 1e-12), 0.0, 1.0)
    return float(wait.time_s[n - 1] + part * (wait.time_s[n] - wait.time_s[n - 1]))


def tuned_rung(waits: Sequence[Wait], clock: Clock, limit: float, model: Rung) -> Rung:
    """The rule tuned by kind of coat to as many bells above `limit` as the learned bell rang in this shop."""
    bells = np.empty(len(waits))
    for kind in {w.kind for w in waits}:
        own = np.array([w.kind == kind for w in waits])
        theirs = [w for w in waits if w.kind == kind]
        most_wet = int(np.sum(model.wet[own] > limit + 1e-9))
        bells[own] = by_number(theirs, clock, tuned(theirs, clock, limit, most_wet))
    return rung(waits, bells)


def best(waits: Sequence[Wait], every: dict[str, Clock], limit: float, model: Rung) -> tuple[str, Rung]:
    """The single number that loses the fewest hours in this shop, tuned likewise."""
    tried = {name: tuned_rung(waits, clock, limit, model) for name, clock in every.items()}
    name = min(tried, key=lambda one: float(tried[one].lost_h.mean()))
    return name, tried[name]
