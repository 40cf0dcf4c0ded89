"""The room's air for the next days: the last hour's level, moved by the daily swing seen over the last days.

Persistence with the mean daily cycle added is the plain reference forecast of meteorology (common practice,
no source). Until two days were measured, most of each, the last hour is held as it is, and the forecast says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.drying.weather import AirSeries
from service.held import Held, held
from service.room.air_book import RoomAir
from service.room.heard import BIN_S, Mask

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
    """Forecast a room's air from `now_s` for `ahead_s` seconds, on half-hours.

    Where nothing fresh was measured it starts from the last good air, as that time of day had it.
    """
    from_s = _last_good_s(air, now_s)
    level = air.series.mean(np.array([_level_start(air, from_s)]), np.array([from_s]))
    times = now_s + np.arange(0, ahead_s + STEP_S, STEP_S)
    days = _days_measured(air, from_s)
    swing_t, swing_h = (
        _swing(air, from_s, days, times) if len(days) >= LEAST_DAYS else np.zeros((2, times.size))
    )
    series = AirSeries(
        times,
        level.temperature_k[0] + swing_t,
        np.clip(level.humidity[0] + swing_h, DRIEST, DAMPEST),
        np.full(times.size, level.speed_m_s[0]),
        np.full(times.size, level.pressure_pa[0]),
    )
    return AirForecast(series, _how(len(days)))


def _how(days: int) -> Held:
    if days < LEAST_DAYS:
        return held("last hour held")
    return held("last hour and the daily swing of {days} days", days=days)


def _last_good_s(air: RoomAir, now_s: float) -> float:
    """Now, or the end of the last five minutes in which the air was measured; now, if it never was."""
    good_s = air.series.time_s[air.measured]
    return min(now_s, float(good_s[-1]) + BIN_S / 2) if good_s.size else now_s


def _level_start(air: RoomAir, from_s: float) -> float:
    """An hour back, but not beyond the first air there is."""
    return min(max(from_s - LEVEL_S, float(air.series.time_s[0])), from_s - 1.0)


def _days_measured(air: RoomAir, from_s: float) -> list[Mask]:
    """The days back from `from_s`, five at the most, of which enough was measured."""
    back = (from_s - air.series.time_s) // DAY_S
    days = [(back == number) & air.measured for number in range(MOST_DAYS)]
    return [day for day in days if day.sum() * BIN_S >= LEAST_SHARE_MEASURED * DAY_S]


def _swing(air: RoomAir, from_s: float, days: Sequence[Mask], times: Array) -> tuple[Array, Array]:
    """How much warmer and damper each time of day was than the hour of day that was measured last.

    The last hour itself is left out: what is odd about it is the level, not the swing.
    """
    slots = DAY_S // STEP_S
    inside = np.logical_or.reduce(days) & (air.series.time_s < from_s - LEVEL_S)
    slot = _slot(air.series.time_s[inside])
    count = np.maximum(np.bincount(slot, minlength=slots), 1)
    seen = np.bincount(slot, minlength=slots) > 0
    out = []
    for values in (air.series.temperature_k[inside], air.series.humidity[inside]):
        cycle = np.bincount(slot, weights=values, minlength=slots) / count
        cycle = np.interp(np.arange(slots), np.flatnonzero(seen), cycle[seen], period=slots)
        out.append(_at(cycle, times) - _at(cycle, np.array([from_s - LEVEL_S / 2]))[0])
    return out[0], out[1]


def _slot(time_s: Array) -> NDArray[np.int_]:
    return ((time_s % DAY_S) // STEP_S).astype(int)


def _at(cycle: Array, times: Array) -> Array:
    """The daily cycle read between the middles of its slots."""
    middles = (np.arange(cycle.size) + 0.5) * STEP_S
    out: Array = np.interp(times % DAY_S, middles, cycle, period=DAY_S)
    return out
