"""Where the air of a coat's wait was not as the recipe asks."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from service.records.recipes import AirLimits
from service.room.air_book import RoomAir
from service.room.heard import BIN_S, Array, Mask
from service.room.views import AirFault, AirWrong

DAY_S = 86400.0
ABOVE, BELOW = 1.0, -1.0
"""On which side of its limit air is wrong."""
LEAST_S = 600.0
"""Air that was wrong for less than this in all is not worth a line (our choice; a swing is told however short)."""


def within_wait(air: RoomAir, start_s: float, until_s: float) -> Mask:
    """The measured points of a wait, and the nearest to its ends: even the shortest wait has one."""
    t, half = air.series.time_s, BIN_S / 2
    inside: Mask = (t > start_s - half) & (t <= until_s + half) & air.measured
    return inside


def air_faults(
    limits: AirLimits, air: RoomAir, first_dip_s: float, start_s: float, until_s: float
) -> tuple[AirFault, ...]:
    """What was wrong with the measured air from `start_s` to `until_s`, each kind of fault once with its worst.

    A swing is what the mould itself went through, in whatever rooms it hung: largest less smallest temperature
    within 24 h and not before its first dip; it belongs to the wait in which its second end was reached. The rooms'
    message counts it so too, see `swing_k`.
    """
    inside = within_wait(air, start_s, until_s)
    if not inside.any():
        return ()
    temperature, humidity = air.series.temperature_k[inside], air.series.humidity[inside]
    held_s = _held_s(air.series.time_s[inside], start_s, until_s)
    swung = _swings_k(air, inside, first_dip_s) if limits.largest_swing_k is not None else np.zeros(0)
    found = (
        _beyond(AirWrong.TOO_WARM, temperature, limits.highest_temperature_k, held_s),
        _beyond(AirWrong.TOO_COLD, temperature, limits.lowest_temperature_k, held_s, BELOW),
        _beyond(AirWrong.TOO_DAMP, humidity, limits.highest_humidity, held_s),
        _beyond(AirWrong.TOO_DRY, humidity, limits.lowest_humidity, held_s, BELOW),
        _beyond(AirWrong.SWUNG, swung, limits.largest_swing_k, held_s),
    )
    return tuple(f for f in found if f is not None and (f.lasted_s >= LEAST_S or f.wrong is AirWrong.SWUNG))


def swing_k(air: RoomAir, first_dip_s: float, now_s: float) -> float | None:
    """How far the temperature of a mould's air swung since its first dip, in the last 24 h; None if not measured."""
    inside = _under_coats(air, first_dip_s) & (air.series.time_s >= now_s - DAY_S)
    return float(np.ptp(air.series.temperature_k[inside])) if inside.any() else None


def largest_swing_k(air: RoomAir, first_dip_s: float, start_s: float, until_s: float) -> float | None:
    """The largest swing that a mould's air came to within a wait, as `air_faults` counts it; None if not measured."""
    inside = within_wait(air, start_s, until_s)
    return float(_swings_k(air, inside, first_dip_s).max()) if inside.any() else None


def _held_s(time_s: Array, start_s: float, until_s: float) -> Array:
    """How much of each point's five minutes lies within the wait."""
    half = BIN_S / 2
    held: Array = np.minimum(time_s + half, until_s) - np.maximum(time_s - half, start_s)
    return held


def _beyond(
    wrong: AirWrong, values: Array, limit: float | None, held_s: Array, side: float = ABOVE
) -> AirFault | None:
    if limit is None:
        return None
    out = side * values > side * limit
    if not out.any():
        return None
    return AirFault(wrong, float(side * (side * values).max()), limit, float(held_s[out].sum()))


def _swings_k(air: RoomAir, inside: Mask, first_dip_s: float) -> Array:
    """At each point inside, how far its temperature was from the farthest of the 24 h before it."""
    counted = _under_coats(air, first_dip_s)
    time_s, temperature_k = air.series.time_s[counted], air.series.temperature_k[counted]
    return np.fromiter(_farthest(time_s, temperature_k, air.series.time_s[inside]), np.float64)


def _under_coats(air: RoomAir, first_dip_s: float) -> Mask:
    """Where air was measured from the first dip on."""
    inside: Mask = air.measured & (air.series.time_s > first_dip_s - BIN_S / 2)
    return inside


def _farthest(time_s: Array, temperature_k: Array, at_s: Array) -> Iterator[float]:
    firsts = np.searchsorted(time_s, at_s - DAY_S)
    ends = np.searchsorted(time_s, at_s, side="right")
    for first, end in zip(firsts.tolist(), ends.tolist(), strict=True):
        day = temperature_k[first:end]
        yield float(np.abs(day - day[-1]).max()) if day.size else 0.0
