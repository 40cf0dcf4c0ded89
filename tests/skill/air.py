"""The air of the study's rooms: seasons, spells of weather, days and nights; and what a shop's instruments make of it.

All of it is made up (our choice), of the size that a lightly heated shed by water has. Humidity stays under 75 %, for
above that some of the shells would wait for days.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from service.drying.air import saturation_pressure_pa
from service.drying.weather import AirSeries

Array = NDArray[np.float64]

DAY_S = 86400.0
READING_S = 600.0
LEAST_HUMIDITY, MOST_HUMIDITY = 0.25, 0.75


def room_air(draw: np.random.Generator, start_s: float, days: int) -> AirSeries:
    """The true air of one room, a point every ten minutes, from midnight at `start_s` on."""
    time_s = start_s + np.arange(0.0, days * DAY_S, READING_S)
    day = (time_s - start_s) / DAY_S
    season = np.cos(2.0 * np.pi * (day / 365.0 + draw.random()))
    sun = np.cos(2.0 * np.pi * (day - 15.0 / 24.0))
    warm_k = 290.0 + draw.normal(0.0, 1.5) + 4.0 * season + draw.uniform(0.5, 2.5) * sun
    warm_k = warm_k + _spells(draw, day.size, days_long=3.0, size=1.5)
    damp = draw.uniform(0.40, 0.55) - 0.04 * season - draw.uniform(0.02, 0.08) * sun
    damp = damp + _spells(draw, day.size, days_long=2.0, size=0.08) + _rain(draw, day)
    fan_m_s, night_m_s = draw.uniform(0.3, 1.5), draw.choice([0.2, 1.0])
    at_work = (np.mod(day, 1.0) > 7.0 / 24.0) & (np.mod(day, 1.0) < 22.0 / 24.0)
    speed_m_s = np.where(at_work, fan_m_s, night_m_s * fan_m_s if night_m_s == 1.0 else night_m_s)
    humidity = np.clip(damp, LEAST_HUMIDITY, MOST_HUMIDITY)
    return AirSeries(time_s, warm_k, humidity, speed_m_s, np.full(time_s.size, 101325.0))


def _spells(draw: np.random.Generator, points: int, days_long: float, size: float) -> Array:
    """Weather that comes and goes: first-order, with a memory of so many days."""
    memory = np.exp(-READING_S / (days_long * DAY_S))
    kicks = draw.normal(0.0, size * np.sqrt(1.0 - memory**2), points)
    values, now = np.empty(points), draw.normal(0.0, size)
    for i, kick in enumerate(kicks):
        now = memory * now + kick
        values[i] = now
    return values


def _rain(draw: np.random.Generator, day: Array) -> Array:
    """Damp spells of half a day to three days, about one a week, that come and go within hours."""
    damper = np.zeros_like(day)
    at = draw.exponential(7.0)
    while at < day[-1]:
        long, much = draw.uniform(0.5, 3.0), draw.uniform(0.06, 0.2)
        edge = 0.15
        damper += much * _rise((day - at) / edge) * _rise((at + long - day) / edge)
        at += long + draw.exponential(7.0)
    return damper


def _rise(steps: Array) -> Array:
    """The logistic function, also far out."""
    return 0.5 * (1.0 + np.tanh(0.5 * steps))


def as_measured(draw: np.random.Generator, air: AirSeries) -> AirSeries:
    """What the shop's own sensor says: 0.15 K and 1 point off for good (one in twenty twice that), and noise.

    Good digital sensors are sold as within 0.2 to 0.3 K and 2 points (from memory). Noise of a reading: 0.1 K, 1 point.
    """
    points = air.time_s.size
    temperature_k = air.temperature_k + draw.normal(0.0, 0.15) + draw.normal(0.0, 0.1, points)
    humidity = air.humidity + draw.normal(0.0, 0.01) + draw.normal(0.0, 0.01, points)
    return AirSeries(air.time_s, temperature_k, np.clip(humidity, 0.05, 1.0), air.speed_m_s, air.pressure_pa)


def one_after_the_other(airs: Sequence[AirSeries]) -> AirSeries:
    """The airs of several rooms, each in a time of its own, as one: so that all are worked out together."""
    names = ("time_s", "temperature_k", "humidity", "speed_m_s", "pressure_pa")
    return AirSeries(*(np.concatenate([getattr(air, name) for air in airs]) for name in names))


def deficit_pa(air: AirSeries) -> Array:
    """How much vapour the air still could take up."""
    return saturation_pressure_pa(air.temperature_k) * (1.0 - air.humidity)
