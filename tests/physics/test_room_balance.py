"""The room's balance against closed solutions, standards, and a worked example of the ASHRAE Handbook.

Sources: ISO 13788:2012 (annex A, humidity classes), ASHRAE Standard 160-2009 (intermediate method), ASHRAE Handbook -
Fundamentals 2017 chapter 1 (adiabatic mixing) and chapter 16 (decay of a tracer), all from memory; PsychroLib; H. S.
Carslaw and J. C. Jaeger, Conduction of Heat in Solids (a lumped body in periodic surroundings).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from service.drying.air import (
    CP_J_KG_K,
    humidity_at_ratio,
    humidity_ratio,
    saturation_pressure_pa,
    wet_bulb_k,
)
from service.drying.isotherm import Array
from service.drying.room_balance import (
    NOTHING_RUNS,
    Heater,
    Inside,
    Loads,
    Machines,
    Room,
    dry_air_kg,
    humidity_of,
    inside_of,
    step,
)
from service.drying.room_loads import Tanks
from tests.parts import need

ZERO_K = 273.15
SEA_PA = 101325.0
HOUR_S, DAY_S = 3600.0, 86400.0
VOLUME_M3 = 145.8


def air(celsius: float, humidity: float) -> Inside:
    return inside_of(np.array([celsius + ZERO_K]), np.array([humidity]), SEA_PA)


def room(
    changes_an_hour: float, loss_w_k: float = 0.0, times_air: float = 1.0, volume_m3: float = VOLUME_M3
) -> Room:
    air_kg = float(dry_air_kg(volume_m3, air(20.0, 0.5), SEA_PA)[0])
    return Room(volume_m3, air_kg, changes_an_hour / HOUR_S, loss_w_k, times_air * air_kg * CP_J_KG_K)


def after(
    there: Room,
    start: Inside,
    outside: Inside,
    loads: Loads,
    hours: float,
    steps: int = 1,
    machines: Machines = NOTHING_RUNS,
) -> Inside:
    for _ in range(steps):
        start = step(there, start, outside, loads, machines, hours * HOUR_S / steps, SEA_PA).inside
    return start


@pytest.mark.parametrize("steps", [1, 7])
@pytest.mark.parametrize("changes", [0.2, 0.75, 4.0])
def test_a_burst_of_vapour_is_blown_out_as_a_tracer_is(changes: float, steps: int) -> None:
    """C = C0 exp(-n t), ASHRAE HoF ch. 16 (tracer decay): to rounding, however the time is cut up."""
    outside, start = air(20.0, 0.4), air(20.0, 0.8)
    end = after(room(changes), start, outside, Loads(), 3.0, steps)
    left = (end.ratio - outside.ratio) / (start.ratio - outside.ratio)
    assert left == pytest.approx(np.exp(-3.0 * changes), rel=1e-12)
    assert end.temperature_k == pytest.approx(start.temperature_k, abs=1e-9)


def vapour_pa(inside: Inside) -> Array:
    return humidity_of(inside, SEA_PA) * saturation_pressure_pa(inside.temperature_k)


def settled(there: Room, outside: Inside, water_kg_s: float) -> Inside:
    return after(there, outside, outside, Loads(water_kg_s=water_kg_s), 500.0, 5)


@pytest.mark.parametrize(
    ("excess_kg_m3", "excess_pa"), [(0.002, 270.0), (0.004, 540.0), (0.006, 810.0), (0.008, 1080.0)]
)
def test_a_steady_load_settles_at_the_excess_of_the_standard(excess_kg_m3: float, excess_pa: float) -> None:
    """ISO 13788 annex A gives each humidity class both ways: G/(n V) in kg/m3, and as vapour pressure.

    2 %: the standard reckons in volumes at 20 degC and rounds to 270 Pa.
    """
    outside, there = air(20.0, 0.3), room(0.5)
    load = excess_kg_m3 * 0.5 / HOUR_S * VOLUME_M3
    end = settled(there, outside, load)
    assert vapour_pa(end) - vapour_pa(outside) == pytest.approx(excess_pa, rel=0.02)


@pytest.mark.parametrize(("litres_a_day", "changes"), [(8.0, 0.2), (14.0, 0.2), (14.0, 0.5)])
def test_a_houses_vapour_by_the_ashrae_standard(litres_a_day: float, changes: float) -> None:
    """Standard 160, intermediate method: p_in = p_out + 1.36e5 m/Q; 8 and 14 l/day: one, three bedrooms. 2 %."""
    volume = 300.0
    outside, there = air(21.0, 0.2), room(changes, volume_m3=volume)
    water = litres_a_day / DAY_S
    end = settled(there, outside, water)
    assert vapour_pa(end) - vapour_pa(outside) == pytest.approx(
        1.36e5 * water / (changes / HOUR_S * volume), rel=0.02
    )


def test_mixing_in_the_ashrae_handbook() -> None:
    """HoF ch. 1 example 5: 2 m3/s at 4 degC (wet bulb 2) into 6.25 m3/s at 25 degC and 50 %: 19.5 degC, wet bulb 14.6.

    A room of air alone, blown through until so much of it is new. 0.1 K: the example is read off a chart.
    """
    w_out = 0.0038  # read off beside its state 1 in the example
    outside = Inside(np.array([4.0 + ZERO_K]), np.array([w_out]))
    new_kg, old_kg = 2.0 / 0.789, 6.25 / 0.858
    share = new_kg / (new_kg + old_kg)
    end = after(room(1.0), air(25.0, 0.5), outside, Loads(), -np.log(1.0 - share))
    assert end.temperature_k[0] - ZERO_K == pytest.approx(19.5, abs=0.1)
    wet = wet_bulb_k(end.temperature_k, humidity_of(end, SEA_PA), SEA_PA)
    assert wet[0] - ZERO_K == pytest.approx(14.6, abs=0.1)


@pytest.mark.parametrize(("celsius", "humidity"), [(30.0, 0.3), (25.0, 0.5), (15.0, 0.6)])
def test_a_shut_room_with_water_in_it_ends_at_the_wet_bulb(celsius: float, humidity: float) -> None:
    """Adiabatic saturation: PsychroLib's thermodynamic wet bulb. 0.25 K: one latent heat, and c_p of dry air."""
    psychrolib = need("psychrolib")
    psychrolib.SetUnitSystem(psychrolib.SI)
    expected = psychrolib.GetTWetBulbFromRelHum(celsius, humidity, SEA_PA)
    machines = Machines(tanks=Tanks(40.0))
    end = after(room(0.0), air(celsius, humidity), air(celsius, humidity), Loads(), 12.0, 400, machines)
    assert humidity_of(end, SEA_PA)[0] == pytest.approx(1.0, abs=0.005)
    assert end.temperature_k[0] - ZERO_K == pytest.approx(expected, abs=0.25)


def test_vapour_and_humidity_of_a_reference_library() -> None:
    """PsychroLib: from humidity ratio back to relative humidity, 0.02 %."""
    psychrolib = need("psychrolib")
    psychrolib.SetUnitSystem(psychrolib.SI)
    celsius, ratio = np.linspace(-5.0, 35.0, 9), np.linspace(0.001, 0.012, 5)[:, None]
    expected = np.vectorize(psychrolib.GetRelHumFromHumRatio)(celsius, ratio, SEA_PA)
    assert humidity_at_ratio(celsius + ZERO_K, ratio, SEA_PA) == pytest.approx(
        np.broadcast_to(expected, (5, 9)), rel=2e-4
    )


def test_humidity_turned_round_is_itself() -> None:
    celsius, humidity = np.linspace(-20.0, 50.0, 15), np.linspace(0.01, 1.0, 7)[:, None]
    ratio = humidity_ratio(celsius + ZERO_K, humidity, 85e3)
    again = humidity_at_ratio(celsius + ZERO_K, ratio, 85e3)
    assert again == pytest.approx(np.broadcast_to(humidity, again.shape), rel=1e-12)


@pytest.mark.parametrize("steps", [1, 12])
def test_a_heated_room_warms_as_a_lumped_body(steps: int) -> None:
    """T = T_out + P/H (1 - exp(-H t/C)), H = n m c_p + UA: to rounding."""
    there, outside, power_w = room(0.8, loss_w_k=60.0, times_air=6.0), air(5.0, 0.5), 2000.0
    loses_w_k = 0.8 / HOUR_S * there.air_kg * CP_J_KG_K + 60.0
    end = after(there, outside, outside, Loads(heat_w=power_w), 2.5, steps)
    kept = np.exp(-loses_w_k * 2.5 * HOUR_S / there.heat_j_k)
    assert end.temperature_k - outside.temperature_k == pytest.approx(
        power_w / loses_w_k * (1.0 - kept), rel=1e-12
    )


@pytest.mark.parametrize("lag_h", [1.0, 4.0, 12.0])
def test_a_swing_outside_comes_in_smaller_and_later(lag_h: float) -> None:
    """Amplitude 1/sqrt(1 + (w tau)2), lag atan(w tau)/w (a lumped body in periodic surroundings). Ten-minute steps."""
    there = room(0.0, loss_w_k=0.0)
    there = replace(there, loss_w_k=there.heat_j_k / (lag_h * HOUR_S))
    turn, step_s = 2.0 * np.pi / DAY_S, 600.0
    times = np.arange(0.0, 10 * DAY_S, step_s)
    outdoors = 283.15 + 5.0 * np.sin(turn * (times + 0.5 * step_s))
    now, found = air(10.0, 0.5), []
    for kelvin in outdoors:
        outside = Inside(np.array([kelvin]), now.ratio)
        now = step(there, now, outside, Loads(), NOTHING_RUNS, step_s, SEA_PA).inside
        found.append(float(now.temperature_k[0]))
    last = times >= 9 * DAY_S
    angle = turn * (times[last] + step_s)
    swing = np.array(found)[last] - 283.15
    sine, cosine = 2.0 * np.mean(swing * np.sin(angle)), 2.0 * np.mean(swing * np.cos(angle))
    along = turn * lag_h * HOUR_S
    assert np.hypot(sine, cosine) == pytest.approx(5.0 / np.sqrt(1.0 + along * along), rel=1e-3)
    assert np.arctan2(-cosine, sine) == pytest.approx(np.arctan(along), abs=1e-3)


def test_a_thermostat_holds_what_it_is_set_to_while_it_can() -> None:
    """Steady heat of a room held 10 K above outdoors: H x 10 K; with less than that it ends at P/H."""
    there, outside = room(0.5, loss_w_k=80.0, times_air=5.0), air(8.0, 0.6)
    loses_w_k = 0.5 / HOUR_S * there.air_kg * CP_J_KG_K + 80.0
    now, given = air(8.0, 0.6), 0.0
    for _ in range(300):
        done = step(there, now, outside, Loads(), Machines(Heater(3000.0, 18.0 + ZERO_K)), 600.0, SEA_PA)
        now, given = done.inside, float(done.moved.heater_j[0]) / 600.0
    assert now.temperature_k[0] == pytest.approx(18.0 + ZERO_K, abs=1e-9)
    assert given == pytest.approx(10.0 * loses_w_k, rel=1e-9)
    weak = after(there, air(8.0, 0.6), outside, Loads(), 200.0, 200, Machines(Heater(500.0, 18.0 + ZERO_K)))
    assert weak.temperature_k[0] - 8.0 - ZERO_K == pytest.approx(500.0 / loses_w_k, rel=1e-6)
