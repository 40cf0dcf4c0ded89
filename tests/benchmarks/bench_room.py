"""How long “What if?” takes, and whether a forecast of the room's air gets better by the answer of its moulds.

    python -m tests.benchmarks.bench_room [--days 12] [--moulds 12 60]

The second is measured in the demo's shed (service/demo/shed.py) with twelve moulds that are dipped by day as they get
ready: once as it is, its air fed the same water at every hour, and once fed by its moulds. `plain` is the forecast as
the service makes it, `answered` the same with what the moulds will give off otherwise than in the last hour and at this
time of day (service/drying/room_answer.py), by what was learned of the shed. RMSE of humidity in points.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.demo.settings import read_demo_settings
from service.demo.shed import DAY_S, STEP_S, Hours, Shed, indoor_air
from service.demo.weather import shipped_weather
from service.drying.air import humidity_at_ratio, humidity_ratio
from service.drying.room_answer import answered
from service.drying.shell import Coat, Parameters, ZoneShape
from service.drying.solver import advance
from service.drying.weather import AirSeries
from service.drying.wet_room import dry_together
from service.drying.zone import Limits, ZoneState, dip, hang
from service.learning.room import RoomHistory, RoomNumber, Told, learn_room
from service.room.air_book import RoomAir
from service.room.air_forecast import forecast_air
from tests.service.drying.wet_rooms import at_work, dipped

Array = NDArray[np.float64]

HOUR_S, HALF_HOUR_S = 3600.0, 1800.0
STEPS = int(HALF_HOUR_S / STEP_S)
LEADS_H = (1, 3, 6, 12, 24)
LEARNS_FROM_D, LOOKED_AHEAD_H, LEAST_DAYS = 6, 24, 8
FACE, AREA_M2, MOULDS, COATS = ZoneShape(0.4, 0.3), 0.25, 12, 8
LIMITS = Limits(0.35, np.inf)
PARAMETERS = Parameters()


def what_if_seconds(moulds: int, zones: int = 2, more: int = 4, hours: float = 72.0) -> float:
    """For so many moulds of so many zones, four more hung in half an hour, three rooms side by side."""
    wet = at_work(0.6, 0.8, 1.1, moulds=moulds * zones)
    began = time.perf_counter()
    dry_together(
        type(wet)(**{**wet.__dict__, "hung": ((HALF_HOUR_S, dipped(more * zones)),)}), hours * HOUR_S
    )
    return time.perf_counter() - began


@dataclass
class Season:
    """A shed's air by five minutes, what its moulds gave off, and how wet they were each half-hour."""

    temperature_k: Array
    ratio: Array
    outside_k: Array
    outside_ratio: Array
    speed_m_s: Array
    pressure_pa: Array
    given_off_kg_s: Array
    moulds: list[list[ZoneState]]

    @property
    def humidity(self) -> Array:
        return np.clip(humidity_at_ratio(self.temperature_k, self.ratio, self.pressure_pa), 0.02, 1.0)


def season(days: int, fed: bool, seed: int = 5) -> Season:
    """The demo's shell room through the first days of its weather. fed: its vapour comes from its moulds."""
    draw = np.random.default_rng(seed)
    weather, shed = shipped_weather(), read_demo_settings(None).sheds[0].shed(Hours(7.0, 19.0))
    air, many = indoor_air(weather, shed), days * int(DAY_S / STEP_S)
    hourly = np.arange(many) * STEP_S / HOUR_S
    outside_k, dew_k, wind = (
        np.interp(hourly, np.arange(v.size), v)
        for v in (weather.temperature_k, weather.dew_point_k, weather.wind_m_s)
    )
    pressure = air.pressure_pa[:many]
    made = Season(
        air.temperature_k[:many],
        np.empty(many),
        outside_k,
        humidity_ratio(dew_k, 1.0, pressure),
        air.speed_m_s[:many],
        pressure,
        np.zeros(many),
        [],
    )
    rate = (1.0 + wind / shed.wind_doubles_m_s) / shed.renewal_s
    moulds, now = _first(draw), float(made.outside_ratio[0])
    for first in range(0, many, STEPS):
        made.moulds.append(moulds)
        moulds, gave = _half_hour(moulds, made, first, now, draw)
        for i in range(first, first + STEPS):
            made.ratio[i], made.given_off_kg_s[i] = now, gave
            load = _load(shed, gave, fed) / (1.19 * shed.volume_m3)
            settles = made.outside_ratio[i] + load / rate[i]
            now = float(settles + (now - settles) * np.exp(-rate[i] * STEP_S))
            now = min(now, float(humidity_ratio(made.temperature_k[i], 1.0, pressure[i])))
    return made


def _load(shed: Shed, gave_kg_s: float, fed: bool) -> float:
    return 0.4 * shed.given_off_kg_s + gave_kg_s if fed else shed.given_off_kg_s


def _first(draw: np.random.Generator) -> list[ZoneState]:
    found = []
    for _ in range(MOULDS):
        zone = hang(FACE, 294.0, 0.0)
        for coat in range(int(draw.integers(1, COATS + 1))):
            zone = dip(zone, _coat(coat), 15.0, PARAMETERS)
        found.append(zone)
    return found


def _coat(number: int) -> Coat:
    return Coat(0.6e-3 if number < 2 else 1.1e-3)


def _half_hour(
    moulds: list[ZoneState], made: Season, first: int, ratio: float, draw: np.random.Generator
) -> tuple[list[ZoneState], float]:
    """Dried on; what is ready in working hours is mostly dipped within the hour. Also what they gave a second."""
    kelvin, pressure = float(made.temperature_k[first]), float(made.pressure_pa[first])
    damp = float(np.clip(humidity_at_ratio(kelvin, ratio, pressure), 0.02, 1.0))
    air = AirSeries.constant(kelvin, damp, float(made.speed_m_s[first]), pressure)
    end_s = (first + STEPS) * STEP_S
    dried = advance(moulds, [end_s] * MOULDS, air, PARAMETERS, [LIMITS] * MOULDS)
    gave = sum(d.state.evaporated_kg_m2 - m.evaporated_kg_m2 for d, m in zip(dried, moulds, strict=True))
    at_work = 7.0 <= (end_s % DAY_S) / HOUR_S < 19.0
    after = [
        _dipped(d.state, kelvin) if d.ready_s is not None and at_work and draw.random() < 0.6 else d.state
        for d in dried
    ]
    return after, AREA_M2 * gave / HALF_HOUR_S


def _dipped(zone: ZoneState, kelvin: float) -> ZoneState:
    """Its next coat; of a whole shell, a new wax with its first."""
    under = zone if len(zone.coats) < COATS else hang(FACE, kelvin, zone.time_s)
    return dip(under, _coat(len(under.coats)), 15.0, PARAMETERS)


def forecast_errors(made: Season, every_h: int = 5) -> dict[str, dict[int, float]]:
    """RMSE in points of humidity, plain and answered, from hours after the first week on."""
    off: dict[str, dict[int, list[float]]] = {
        kind: {lead: [] for lead in LEADS_H} for kind in ("plain", "answered")
    }
    steps_h = int(HOUR_S / STEP_S)
    last = made.ratio.size - (LOOKED_AHEAD_H + 1) * steps_h
    draw = np.random.default_rng(7)
    for at in range(7 * 24 * steps_h, last, every_h * steps_h):
        plain = forecast_air(_seen(made, at, draw), at * STEP_S, LOOKED_AHEAD_H * HOUR_S).series
        both = {"plain": plain, "answered": _answered(made, at, plain)}
        for kind, series in both.items():
            for lead in LEADS_H:
                there = series.at(np.array([at * STEP_S + lead * HOUR_S])).humidity[0]
                off[kind][lead].append(float(there - made.humidity[at + lead * steps_h]))
    return {
        kind: {lead: 100.0 * float(np.sqrt(np.mean(np.square(each)))) for lead, each in own.items()}
        for kind, own in off.items()
    }


def _seen(made: Season, at: int, draw: np.random.Generator) -> RoomAir:
    """What a hygrometer told up to then."""
    own = slice(max(at - 28 * int(DAY_S / STEP_S), 0), at)
    many = made.ratio[own].size
    series = AirSeries(
        (np.arange(own.start, at) + 0.5) * STEP_S,
        made.temperature_k[own] + draw.normal(0.0, 0.03, many),
        np.clip(made.humidity[own] + draw.normal(0.0, 0.002, many), 0.02, 1.0),
        made.speed_m_s[own],
        made.pressure_pa[own],
    )
    every = np.ones(many, bool)
    return RoomAir(series, every, every, every)


def _answered(made: Season, at: int, plain: AirSeries) -> AirSeries:
    """Besides what the last hour gave, moved by the daily cycle of what was given off."""
    start = at - LEARNS_FROM_D * int(DAY_S / STEP_S)
    past = slice(start, at)
    air_kg = 1.19 * 145.8
    history = RoomHistory(
        HALF_HOUR_S,
        *(
            row[past].reshape(-1, STEPS).mean(axis=1)
            for row in (
                made.temperature_k,
                made.ratio,
                made.outside_k,
                made.outside_ratio,
                made.given_off_kg_s,
            )
        ),
    )
    belief = learn_room(history, Told(air_kg, held_k=294.95))
    moulds = made.moulds[at // STEPS]
    ends = plain.time_s
    dried = advance(
        moulds, [max(float(ends[-1]), m.time_s) for m in moulds], plain, PARAMETERS, [LIMITS] * MOULDS
    )
    lost = sum(
        (
            d.state.dry_mass_kg_m2 * (d.path[0, 2] - np.interp(ends, d.path[:, 0], d.path[:, 2]))
            for d in dried
        ),
        np.zeros(ends.size),
    )
    gives = AREA_M2 * np.diff(lost) / np.diff(ends)
    usual = _as_taken_for_granted(made.given_off_kg_s, at, 0.5 * (ends[1:] + ends[:-1]))
    besides = belief.range_of(RoomNumber.MOULDS) * (gives - usual)
    return answered(plain, besides, belief.range_of(RoomNumber.AIR_CHANGES), air_kg)


def _as_taken_for_granted(given: Array, at: int, time_s: Array) -> Array:
    a_day = int(DAY_S / STEP_S)
    days = given[at - 5 * a_day : at].reshape(5, a_day).mean(axis=0)
    first = (at - 5 * a_day) % a_day
    cycle = np.roll(days, first)
    here = np.interp(time_s % DAY_S, (np.arange(a_day) + 0.5) * STEP_S, cycle, period=DAY_S)
    now = np.interp(
        (at * STEP_S - HALF_HOUR_S) % DAY_S, (np.arange(a_day) + 0.5) * STEP_S, cycle, period=DAY_S
    )
    out: Array = given[at - 12 : at].mean() + here - now
    return out


def main(argv: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--days", type=int, default=12)
    parser.add_argument("--moulds", type=int, nargs="*", default=[12, 60])
    asked = parser.parse_args(argv)
    for moulds in asked.moulds:
        print(f"what if, {moulds} moulds of 2 zones: {what_if_seconds(moulds):.2f} s")
    for fed in (False, True) if asked.days > LEAST_DAYS else ():
        errors = forecast_errors(season(asked.days, fed))
        print(f"humidity ahead, shed {'fed by its moulds' if fed else 'as the demo has it'}, RMSE in points:")
        for kind, own in errors.items():
            print(f"  {kind:9}" + "".join(f"  {lead} h {error:5.2f}" for lead, error in own.items()))


if __name__ == "__main__":
    main()
