"""The bell's margin after the likeliest hour, as so much drying: drier or moving air makes it shorter, damper longer.

A slow member, for which the bell waits, is followed by nobody here. Near the end of its wait a coat dries about as its
air takes water up, so what is left to it is counted in that: deficit of vapour times the root of the air's speed, over
time (laminar flow over a plate: Incropera et al., Fundamentals of Heat and Mass Transfer, ch. 7, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.drying.air import saturation_pressure_pa
from service.drying.isotherm import Array
from service.drying.room_balance import Inside, humidity_of
from service.drying.weather import AirSeries
from service.drying.wet_room import Running, Went


@dataclass(frozen=True)
class Drying:
    """What the air could have taken up by time_s (n,): as forecast (n,), and then, in each room, (n, rooms)."""

    time_s: Array
    before: Array
    after: Array

    @classmethod
    def of(cls, went: Went, to_come: AirSeries, changes: Sequence[Running]) -> Drying:
        as_forecast = to_come.at(went.time_s)
        speed = np.maximum(as_forecast.speed_m_s, 1e-3)
        then = np.maximum(_speeds(went.time_s, as_forecast.speed_m_s, changes), 1e-3)
        pressure = as_forecast.pressure_pa
        before = _sum(went.time_s, _deficit_pa(went.before, pressure) * np.sqrt(speed))
        rate = _deficit_pa(went.after, pressure[:, None]) * np.sqrt(then)[:, None]
        after = np.stack([_sum(went.time_s, one) for one in rate.T], axis=1)
        return cls(went.time_s, before, after)

    def bell_s(self, due_s: float, before_s: float, then_s: Array) -> Array:
        """When it rings in each room, (rooms,); nan: not as far as was looked.

        due_s: its hour as things are; before_s, then_s: when the likeliest life is ready as things are, and then.
        """
        if not before_s <= due_s <= self.time_s[-1]:
            return then_s + (due_s - before_s)
        left = np.interp(due_s, self.time_s, self.before) - np.interp(before_s, self.time_s, self.before)
        return np.array([self._reached(room, at_s, left) for room, at_s in enumerate(then_s)])

    def _reached(self, room: int, from_s: float, left: float) -> float:
        total = self.after[:, room]
        wanted = np.interp(from_s, self.time_s, total) + left if np.isfinite(from_s) else np.inf
        return float(np.interp(wanted, total, self.time_s)) if wanted <= total[-1] else float("nan")


def _deficit_pa(inside: Inside, pressure_pa: Array) -> Array:
    return saturation_pressure_pa(inside.temperature_k) * (1.0 - humidity_of(inside, pressure_pa))


def _speeds(time_s: Array, forecast_m_s: Array, changes: Sequence[Running]) -> Array:
    out = np.array(forecast_m_s, float)
    for change in sorted(changes, key=lambda each: each.at_s):
        later = time_s >= change.at_s
        out[later] = forecast_m_s[later] if change.speed_m_s is None else change.speed_m_s
    return out


def _sum(time_s: Array, rate: Array) -> Array:
    """Strictly rising, so that it can be read the other way round."""
    pieces = np.maximum(0.5 * (rate[1:] + rate[:-1]) * np.diff(time_s), 1e-9)
    return np.concatenate([[0.0], np.cumsum(pieces)])
