"""The air inside a shed, worked out from the weather outside it: a stated, simple model.

Assumptions, all of them ours (no source; the sizes stand in configs/demo.toml with their units):

- One well-mixed body of air and walls at one temperature. Left alone it follows the outdoor air with a first-order
  lag: dT/dt = (T_out - T) / lag. No sun, no people.
- A heater adds what is needed to reach its set-point, up to `heater_lift_k` above outdoors at rest. It has one
  set-point by day and one by night. Nothing cools the shed.
- Vapour is carried as humidity ratio w (kg water / kg dry air), which warming does not change. It is renewed from
  outdoors and fed by drying shells, tanks and the wet floor: dw/dt = n (w_out - w) + source / (air density x volume),
  where the rate n = (1 + wind / wind_doubles) / renewal: wind blows through the gaps.
- Air never holds more than saturation: the surplus runs down the walls and is gone.
- Outdoor humidity ratio comes from the dew point. The pressure indoors is the pressure outdoors.
- Air speed at the shells is one value with the fan on and one with it off, by the clock. It is set, not worked out.

Hours count from midnight at the weather's first row, so days keep their shape. The weather goes round for ever.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from service.demo.weather import Weather
from service.drying.air import MOLE_MASS_RATIO, density_kg_m3, humidity_ratio, saturation_pressure_pa
from service.drying.isotherm import Array

STEP_S = 300.0
STEPS_AN_HOUR = 12
DAY_S = 86400.0


@dataclass(frozen=True, slots=True)
class Hours:
    """From one hour of the day to a later one, 0 to 24."""

    start: float
    end: float

    def hold(self, hour: float) -> bool:
        return self.start <= hour < self.end


@dataclass(frozen=True, slots=True)
class Shed:
    """What a shed is like. No `set_point_k`: unheated."""

    lag_s: float
    volume_m3: float
    renewal_s: float
    wind_doubles_m_s: float
    given_off_kg_s: float
    fan_m_s: float
    still_m_s: float
    fan_hours: Hours
    set_point_k: float | None = None
    night_set_point_k: float | None = None
    day_hours: Hours = Hours(7.0, 19.0)
    heater_lift_k: float = 0.0

    def wanted_k(self, hour: float) -> float:
        """What the heater aims for at this hour of the day; far below any weather where there is none."""
        night = self.set_point_k if self.night_set_point_k is None else self.night_set_point_k
        aim = self.set_point_k if self.day_hours.hold(hour) else night
        return -math.inf if aim is None else aim

    def speed_m_s(self, hour: float) -> float:
        return self.fan_m_s if self.fan_hours.hold(hour) else self.still_m_s


class IndoorAir(NamedTuple):
    """The air at one moment: K, 0..1, m/s, Pa."""

    temperature_k: float
    humidity: float
    speed_m_s: float
    pressure_pa: float


@dataclass(frozen=True, slots=True)
class ShedAir:
    """The air inside through the whole stretch, every `STEP_S` from the first midnight on. All arrays (steps,).

    condensed: kg water a kg dry air lost to the walls in the step up to that moment.
    """

    temperature_k: Array
    humidity_ratio: Array
    humidity: Array
    speed_m_s: Array
    pressure_pa: Array
    condensed: Array

    def at(self, time_s: float) -> IndoorAir:
        """The air `time_s` after the first midnight, before or after the stretch too: it goes round.

        The air goes in a straight line from step to step; the fan is on or off.
        """
        place = time_s / STEP_S
        low = math.floor(place)
        i, j, share = low % self.humidity.size, (low + 1) % self.humidity.size, place - low
        t, rh, p = (
            float(v[i] + share * (v[j] - v[i])) for v in (self.temperature_k, self.humidity, self.pressure_pa)
        )
        return IndoorAir(t, rh, float(self.speed_m_s[i]), p)


def indoor_air(weather: Weather, shed: Shed) -> ShedAir:
    """The air in `shed` through the whole of `weather`, as it settles when the stretch goes round and round."""
    outdoor_k, dew_k, wind, pressure = (
        _by_step(v)
        for v in (weather.temperature_k, weather.dew_point_k, weather.wind_m_s, weather.pressure_pa)
    )
    hour = (np.arange(outdoor_k.size) * STEP_S % DAY_S) / 3600.0
    temperature = _temperature(outdoor_k, np.array([shed.wanted_k(h) for h in hour]), shed)
    ratio, condensed = _vapour(humidity_ratio(dew_k, 1.0, pressure), wind, pressure, temperature, shed)
    vapour_pa = ratio * pressure / (MOLE_MASS_RATIO + ratio)
    humidity = np.minimum(vapour_pa / saturation_pressure_pa(temperature), 1.0)
    speed = np.array([shed.speed_m_s(h) for h in hour])
    return ShedAir(temperature, ratio, humidity, speed, pressure, condensed)


def _by_step(hourly: Array) -> Array:
    """Hourly values on the finer grid, in straight lines, round to the first again."""
    places = np.arange(hourly.size * STEPS_AN_HOUR) / STEPS_AN_HOUR
    return np.asarray(np.interp(places, np.arange(hourly.size + 1), np.append(hourly, hourly[0])), np.float64)


def _temperature(outdoor_k: Array, wanted_k: Array, shed: Shed) -> Array:
    """Exact over each step for outdoor air held through it. Twice round, so that the start is forgotten."""
    kept = math.exp(-STEP_S / shed.lag_s)
    found = np.empty_like(outdoor_k)
    now = float(outdoor_k[0])
    for i in [*range(outdoor_k.size)] * 2:
        found[i] = now
        cooled = outdoor_k[i] + (now - outdoor_k[i]) * kept
        strongest = cooled + shed.heater_lift_k * (1.0 - kept)
        now = float(min(max(cooled, wanted_k[i]), strongest))
    return found


def _vapour(
    outdoor: Array, wind: Array, pressure: Array, temperature: Array, shed: Shed
) -> tuple[Array, Array]:
    """Humidity ratio and what condensed, exact over each step for outdoor air held through it; twice round."""
    rate = (1.0 + wind / shed.wind_doubles_m_s) / shed.renewal_s
    kept = np.exp(-rate * STEP_S)
    source = shed.given_off_kg_s / (density_kg_m3(temperature, pressure) * shed.volume_m3)
    settles = outdoor + source / rate
    most = humidity_ratio(temperature, 1.0, pressure)
    found, condensed = np.empty_like(outdoor), np.zeros_like(outdoor)
    now = float(min(outdoor[0], most[0]))
    for i in [*range(outdoor.size)] * 2:
        condensed[i] = max(now - most[i], 0.0)
        found[i] = now = float(min(now, most[i]))
        now = float(settles[i] + (now - settles[i]) * kept[i])
    return found, condensed
