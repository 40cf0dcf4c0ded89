"""The shed model: laws it must keep, its edges, and an independent integration of the same equations."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from service.demo.shed import DAY_S, STEP_S, Hours, Shed, ShedAir, indoor_air
from service.demo.weather import Weather, shipped_weather
from service.drying.air import MOLE_MASS_RATIO, density_kg_m3, humidity_ratio, saturation_pressure_pa
from service.drying.isotherm import Array

NEVER = Hours(0.0, 0.0)
SHED = Shed(
    lag_s=4 * 3600.0,
    volume_m3=120.0,
    renewal_s=4500.0,
    wind_doubles_m_s=8.0,
    given_off_kg_s=0.0,
    fan_m_s=1.2,
    still_m_s=0.2,
    fan_hours=Hours(7.0, 22.0),
)
HEATED = replace(SHED, set_point_k=294.65, night_set_point_k=293.65, heater_lift_k=15.0)


def steady(
    temperature_k: float = 283.15, dew_point_k: float = 278.15, wind: float = 0.0, hours: int = 48
) -> Weather:
    ones = np.ones(hours)
    return Weather(
        datetime(2013, 5, 1, tzinfo=UTC),
        temperature_k * ones,
        dew_point_k * ones,
        wind * ones,
        101325.0 * ones,
    )


def swinging(hours: int = 48) -> Weather:
    """A day's swing of 6 K about 10 degC, dew point steady at 4 degC, wind 0 to 8 m/s."""
    day = np.sin(2 * np.pi * np.arange(hours) / 24)
    return Weather(
        datetime(2013, 5, 1, tzinfo=UTC),
        283.15 + 6 * day,
        np.full(hours, 277.15),
        4 + 4 * day,
        np.full(hours, 101325.0),
    )


@pytest.fixture(scope="module")
def weather() -> Weather:
    return shipped_weather()


@pytest.fixture(scope="module", params=["heated", "unheated", "heated and full of wet shells"])
def real(request: pytest.FixtureRequest, weather: Weather) -> tuple[Shed, ShedAir]:
    shed = {"heated": HEATED, "unheated": SHED}.get(request.param, replace(HEATED, given_off_kg_s=5e-4))
    return shed, indoor_air(weather, shed)


def outdoors(weather: Weather, column: Array) -> Array:
    """Hourly values in straight lines, round to the first again: written anew, to check the model's own."""
    n = column.size
    times = np.arange(n * 12) / 12
    low = times.astype(int)
    return column[low] + (times - low) * (column[(low + 1) % n] - column[low])


def test_air_is_never_more_than_saturated(real: tuple[Shed, ShedAir]) -> None:
    _, air = real
    assert air.humidity.max() <= 1.0
    assert air.humidity.min() > 0.0
    assert np.all(air.humidity_ratio <= humidity_ratio(air.temperature_k, 1.0, air.pressure_pa) * (1 + 1e-12))


def test_humidity_is_that_of_the_vapour_at_the_temperature_indoors(real: tuple[Shed, ShedAir]) -> None:
    _, air = real
    vapour_pa = air.humidity * saturation_pressure_pa(air.temperature_k)
    assert MOLE_MASS_RATIO * vapour_pa / (air.pressure_pa - vapour_pa) == pytest.approx(
        air.humidity_ratio, rel=1e-9
    )


def test_vapour_is_neither_made_nor_lost(real: tuple[Shed, ShedAir], weather: Weather) -> None:
    """What blew in, less what blew out, plus what the shells gave, less what condensed, is what stayed.

    Inside a step w goes exponentially to where it settles, so its mean there is known exactly.
    """
    shed, air = real
    outside = humidity_ratio(outdoors(weather, weather.dew_point_k), 1.0, air.pressure_pa)
    rate = (1.0 + outdoors(weather, weather.wind_m_s) / shed.wind_doubles_m_s) / shed.renewal_s
    given = shed.given_off_kg_s / (density_kg_m3(air.temperature_k, air.pressure_pa) * shed.volume_m3)
    settles = outside + given / rate
    start = air.humidity_ratio
    mean = settles + (start - settles) * (1.0 - np.exp(-rate * STEP_S)) / (rate * STEP_S)
    gained = (rate * (outside - mean) + given) * STEP_S
    stayed = np.roll(start, -1) - start
    assert gained - np.roll(air.condensed, -1) == pytest.approx(stayed, abs=1e-12)
    assert gained.sum() == pytest.approx(air.condensed.sum(), abs=1e-9)


def test_it_condenses_only_in_saturated_air(real: tuple[Shed, ShedAir]) -> None:
    _, air = real
    assert np.all(air.condensed >= 0.0)
    assert np.all(air.humidity[air.condensed > 0.0] == pytest.approx(1.0))


def test_an_unheated_shed_with_a_few_wet_shells_condenses_on_some_nights_only(weather: Weather) -> None:
    condensed = indoor_air(weather, replace(SHED, given_off_kg_s=3e-5)).condensed.reshape(21, -1).sum(axis=1)
    assert 0 < np.count_nonzero(condensed) < 21


def test_agrees_with_an_independent_integration() -> None:
    """SciPy's RK45 at 1e-8 on the differential equations as the module states them, unheated, swinging air."""
    weather, shed = swinging(), replace(SHED, given_off_kg_s=1e-5)
    hours = np.arange(49.0)

    def outside(t: float, column: Array) -> float:
        return float(np.interp(t / 3600.0 % 48.0, hours, np.append(column, column[0])))

    def slope(t: float, state: Array) -> list[float]:
        indoors, ratio = state
        around = float(humidity_ratio(outside(t, weather.dew_point_k), 1.0, 101325.0))
        rate = (1.0 + outside(t, weather.wind_m_s) / shed.wind_doubles_m_s) / shed.renewal_s
        given = shed.given_off_kg_s / (101325.0 / (287.05 * indoors) * shed.volume_m3)
        return [(outside(t, weather.temperature_k) - indoors) / shed.lag_s, rate * (around - ratio) + given]

    times = np.arange(576) * STEP_S + 2 * DAY_S  # the second round, when the start is forgotten
    exact = solve_ivp(
        slope, (0.0, times[-1]), [283.15, 0.005], t_eval=times, rtol=1e-8, atol=1e-10, max_step=900.0
    )
    air = indoor_air(weather, shed)
    assert air.temperature_k == pytest.approx(exact.y[0], abs=0.05)  # outdoor air is held through 5 min here
    assert air.humidity_ratio == pytest.approx(exact.y[1], rel=2e-3)


def test_steady_weather_gives_the_outdoor_air_indoors() -> None:
    air = indoor_air(steady(), SHED)
    assert air.temperature_k == pytest.approx(np.full(576, 283.15))
    assert air.humidity_ratio == pytest.approx(np.full(576, float(humidity_ratio(278.15, 1.0, 101325.0))))


def test_warming_the_same_vapour_dries_the_air() -> None:
    """5 degC dew point at 21.5 degC: p_ws(5) / p_ws(21.5) = 872.6 / 2564.9 Pa = 34.0 % (ASHRAE HoF 2017, table 3)."""
    air = indoor_air(steady(), replace(HEATED, night_set_point_k=294.65))
    assert air.humidity[-1] == pytest.approx(872.6 / 2564.9, rel=1e-3)


def test_steady_shells_raise_the_vapour_by_source_over_air_change() -> None:
    wet = indoor_air(steady(), replace(SHED, given_off_kg_s=1e-5))
    rise = wet.humidity_ratio - indoor_air(steady(), SHED).humidity_ratio
    assert rise == pytest.approx(np.full(576, 1e-5 * 4500.0 / (101325.0 / (287.05 * 283.15) * 120.0)))


def test_wind_carries_the_shells_vapour_away_twice_as_fast() -> None:
    shed = replace(SHED, given_off_kg_s=1e-5)
    dry = indoor_air(steady(), SHED).humidity_ratio[-1]
    still = indoor_air(steady(wind=0.0), shed).humidity_ratio[-1] - dry
    windy = indoor_air(steady(wind=8.0), shed).humidity_ratio[-1] - dry
    assert windy == pytest.approx(still / 2)


def test_a_source_beyond_what_air_can_hold_runs_down_the_walls() -> None:
    air = indoor_air(steady(), replace(SHED, given_off_kg_s=1e-3))
    assert air.humidity == pytest.approx(np.ones(576))
    assert air.condensed.min() > 0.0


def test_the_unheated_shed_swings_less_than_outdoors_and_later() -> None:
    outside, inside = swinging(), indoor_air(swinging(), SHED)
    assert np.ptp(inside.temperature_k) < np.ptp(outside.temperature_k)
    assert inside.temperature_k[:288].argmax() * STEP_S / 3600 > outside.temperature_k[:24].argmax()


def test_a_first_order_lag_has_the_amplitude_and_delay_of_the_textbook() -> None:
    """Sinusoidal input, period P: gain 1 / sqrt(1 + (w lag)^2), delay atan(w lag) / w (any control textbook)."""
    air = indoor_air(swinging(), SHED)
    w = 2 * np.pi / DAY_S
    gain = 1 / np.sqrt(1 + (w * SHED.lag_s) ** 2)
    assert np.ptp(air.temperature_k) / 12.0 == pytest.approx(gain, rel=0.02)
    delay_s = air.temperature_k[:288].argmax() * STEP_S - DAY_S / 4
    assert delay_s == pytest.approx(np.arctan(w * SHED.lag_s) / w, abs=2 * STEP_S)


def test_the_heater_holds_its_set_point_by_day_and_the_lower_one_by_night() -> None:
    air = indoor_air(steady(283.15), HEATED)
    assert air.temperature_k[12 * 12] == pytest.approx(294.65)
    assert air.temperature_k[5 * 12] == pytest.approx(293.65)


def test_the_heater_lifts_no_more_than_it_can() -> None:
    air = indoor_air(steady(273.15, 270.15), HEATED)
    assert air.temperature_k == pytest.approx(np.full(576, 288.15))


def test_the_heater_warms_no_faster_than_its_strength_allows() -> None:
    air = indoor_air(steady(279.65), HEATED)  # set-point exactly 15 K above outdoors: reached only in the end
    steps = np.diff(air.temperature_k)
    assert steps.max() <= 15.0 * (1 - np.exp(-STEP_S / HEATED.lag_s)) + 1e-9
    assert air.temperature_k.max() < 294.65


def test_the_heater_cools_nothing() -> None:
    air = indoor_air(steady(303.15, 283.15), HEATED)
    assert air.temperature_k == pytest.approx(np.full(576, 303.15))


def test_the_fan_goes_by_the_clock_to_the_very_step() -> None:
    air = indoor_air(steady(), SHED)
    assert air.at(7 * 3600.0 - 1).speed_m_s == 0.2
    assert air.at(7 * 3600.0).speed_m_s == 1.2
    assert air.at(22 * 3600.0 - 1).speed_m_s == 1.2
    assert air.at(22 * 3600.0).speed_m_s == 0.2


def test_a_fan_that_is_never_on() -> None:
    assert indoor_air(steady(), replace(SHED, fan_hours=NEVER)).speed_m_s.max() == 0.2


def test_between_steps_the_air_goes_in_a_straight_line() -> None:
    air = indoor_air(swinging(), SHED)
    assert air.at(STEP_S * 10.5).temperature_k == pytest.approx(air.temperature_k[10:12].mean())
    assert air.at(STEP_S * 10.5).humidity == pytest.approx(air.humidity[10:12].mean())
    assert air.at(STEP_S * 10.0).pressure_pa == air.pressure_pa[10]


@pytest.mark.parametrize("rounds", [-3, -1, 1, 40])
def test_the_stretch_goes_round_before_and_after(rounds: int) -> None:
    air = indoor_air(swinging(), SHED)
    for time_s in (0.0, 4242.0, 2 * DAY_S - 1.0):
        assert air.at(time_s + rounds * 2 * DAY_S) == pytest.approx(air.at(time_s))


def test_the_seam_of_the_round_is_no_jump(real: tuple[Shed, ShedAir]) -> None:
    _, air = real
    before, after = air.at(21 * DAY_S - 1.0), air.at(21 * DAY_S + 1.0)
    assert after.temperature_k == pytest.approx(before.temperature_k, abs=0.02)
    assert after.humidity == pytest.approx(before.humidity, abs=0.002)


def test_hours_hold_their_start_and_not_their_end() -> None:
    hours = Hours(7.0, 19.0)
    assert hours.hold(7.0)
    assert hours.hold(18.99)
    assert not hours.hold(19.0)
    assert not hours.hold(6.99)


def test_the_same_weather_always_gives_the_same_air(weather: Weather) -> None:
    one, two = indoor_air(weather, HEATED), indoor_air(weather, HEATED)
    assert np.array_equal(one.humidity, two.humidity)
