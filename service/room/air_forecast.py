"""The room's air for the next days: the last hour's level, moved by the daily swing seen over the last days.

Persistence with the mean daily cycle added is the plain reference forecast of meteorology (common practice,
no source). Until two whole days were measured the last hour is held as it is, and the forecast says so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.drying.weather import AirSeries
from service.room.air_book import BIN_S, RoomAir

Array = NDArray[np.float64]

DAY_S = 86400
LEVEL_S = 3600
LEAST_DAYS = 2
MOST_DAYS = 5
LEAST_SHARE_MEASURED = 0.7
STEP_S = 1800
DRIEST, DAMPEST = 0.02, 1.0


@dataclass(frozen=True)
class AirForecast:
    """The air to come, and how it was made: ``"last hour and the daily swing of 3 days"``."""

    series: AirSeries
    how: str


def forecast_air(air: RoomAir, now_s: float, ahead_s: float) -> AirForecast:
    """Forecast a room's air from `now_s` for `ahead_s` seconds, on half-hours."""
    level = air.series.mean(np.array([_level_start(air, now_s)]), np.array([now_s]))
    times = now_s + np.arange(0, ahead_s + STEP_S, STEP_S)
    days = _days_measured(air, now_s)
    swing_t, swing_h = _swing(air, now_s, days, times) if days >= LEAST_DAYS else (np.zeros((2, times.size)))
    series = AirSeries(
        times,
        level.temperature_k[0] + swing_t,
        np.clip(level.humidity[0] + swing_h, DRIEST, DAMPEST),
        np.full(times.size, level.speed_m_s[0]),
        np.full(times.size, level.pressure_pa[0]),
    )
    how = f"last hour and the daily swing of {days} days" if days >= LEAST_DAYS else "last hour held"
    return AirForecast(series, how)


def _level_start(air: RoomAir, now_s: float) -> float:
    """An hour back, but not beyond the first air there is."""
    return min(max(now_s - LEVEL_S, float(air.series.time_s[0])), now_s - 1.0)


def _days_measured(air: RoomAir, now_s: float) -> int:
    """Whole days back from now of which enough was measured, five at the most."""
    for days in range(MOST_DAYS, 0, -1):
        inside = air.series.time_s > now_s - days * DAY_S
        if (
            inside.sum() * BIN_S >= days * DAY_S - BIN_S
            and air.measured[inside].mean() >= LEAST_SHARE_MEASURED
        ):
            return days
    return 0


def _swing(air: RoomAir, now_s: float, days: int, times: Array) -> tuple[Array, Array]:
    """How much warmer and damper each time of day was than the hour of day that has just passed."""
    slots = DAY_S // STEP_S
    t = air.series.time_s
    inside = (t > now_s - days * DAY_S) & (t <= now_s) & air.measured
    slot = _slot(t[inside])
    count = np.maximum(np.bincount(slot, minlength=slots), 1)
    seen = np.bincount(slot, minlength=slots) > 0
    out = []
    for values in (air.series.temperature_k[inside], air.series.humidity[inside]):
        cycle = np.bincount(slot, weights=values, minlength=slots) / count
        cycle = np.interp(np.arange(slots), np.flatnonzero(seen), cycle[seen], period=slots)
        out.append(_at(cycle, times) - _at(cycle, np.array([now_s - LEVEL_S / 2]))[0])
    return out[0], out[1]


def _slot(time_s: Array) -> NDArray[np.int_]:
    return ((time_s % DAY_S) // STEP_S).astype(int)


def _at(cycle: Array, times: Array) -> Array:
    """The daily cycle read between the middles of its slots."""
    middles = (np.arange(cycle.size) + 0.5) * STEP_S
    out: Array = np.interp(times % DAY_S, middles, cycle, period=DAY_S)
    return out
