"""Made-up sheds whose numbers are known, to be learned again from what a hygrometer in them would show."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.drying.air import CP_J_KG_K
from service.drying.room_loads import LATENT_J_KG
from service.learning.room import RoomHistory

Array = NDArray[np.float64]

FIVE_MINUTES_S, HALF_HOUR_S, DAY_S = 300.0, 1800.0, 86400.0
AIR_KG = 174.0


@dataclass(frozen=True)
class TrueShed:
    """What nobody knows. changes_an_hour wavers with the wind by `wind` (log-normal, for some hours)."""

    changes_an_hour: float = 0.8
    share: float = 1.0
    follows_an_hour: float = 0.25
    times_air: float = 6.0
    load_kg_h: float = 0.15
    wind: float = 0.3


def history(shed: TrueShed, days: int, seed: int, outdoors: bool = True) -> RoomHistory:
    """Moulds dipped six times a day, weather that wanders and swings, and a hygrometer with noise and an offset."""
    draw = np.random.default_rng(seed)
    steps = days * round(DAY_S / FIVE_MINUTES_S)
    t = np.arange(steps) * FIVE_MINUTES_S
    outside_k = 283.0 + 4.0 * np.sin(2 * np.pi * t / DAY_S) + _wandering(draw, steps, 3.0)
    outside_w = 0.006 + 0.0006 * np.sin(2 * np.pi * t / DAY_S) + _wandering(draw, steps, 0.0015)
    given = _given_off(draw, t, days)
    gusts = draw.normal(0.0, shed.wind, steps // 36 + 1)
    rate = shed.changes_an_hour / 3600.0 * np.exp(np.interp(t, t[::36], gusts[: t[::36].size]))
    load = shed.load_kg_h / 3600.0 / AIR_KG
    w = _lagged(outside_w, rate, shed.share * given / AIR_KG + load)
    cooling = -LATENT_J_KG * shed.share * given / (shed.times_air * AIR_KG * CP_J_KG_K)
    kelvin = _lagged(outside_k, np.full(steps, shed.follows_an_hour / 3600.0), cooling)
    seen_w = w + draw.normal(0.0, 4e-5, steps) + 1e-4
    seen_k = kelvin + draw.normal(0.0, 0.03, steps) + 0.1
    nothing = np.full(steps // 6, np.nan)
    return RoomHistory(
        HALF_HOUR_S,
        _halves(seen_k),
        _halves(seen_w),
        _halves(outside_k) if outdoors else nothing,
        _halves(outside_w) if outdoors else nothing,
        _halves(given),
    )


def _wandering(draw: np.random.Generator, steps: int, a_day: float) -> Array:
    out: Array = np.cumsum(draw.normal(0.0, a_day * np.sqrt(FIVE_MINUTES_S / DAY_S), steps))
    return out


def _given_off(draw: np.random.Generator, t: Array, days: int) -> Array:
    given = np.zeros(t.size)
    for _ in range(6 * days):
        at, lasts = draw.uniform(0.0, days * DAY_S), draw.uniform(2.0, 5.0) * 3600.0
        given += np.where(
            t > at, draw.uniform(0.1, 0.3) * np.exp(-np.maximum(t - at, 0.0) / lasts) / lasts, 0.0
        )
    return given


def _lagged(outside: Array, rate_1_s: Array, push: Array) -> Array:
    found, now = np.empty(outside.size), float(outside[0])
    for i in range(outside.size):
        found[i] = now
        settles = outside[i] + push[i] / rate_1_s[i]
        now = settles + (now - settles) * float(np.exp(-rate_1_s[i] * FIVE_MINUTES_S))
    return found


def _halves(values: Array) -> Array:
    out: Array = values.reshape(-1, 6).mean(axis=1)
    return out
