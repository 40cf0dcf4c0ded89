"""The room's step: what goes in and out closes, several rooms go side by side, and machines do what they are set to."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.drying.air import CP_J_KG_K
from service.drying.dehumidifier import Dehumidifier, Rated
from service.drying.room_balance import (
    NOTHING_RUNS,
    Heater,
    Inside,
    Loads,
    Machines,
    Moved,
    Room,
    Stepped,
    dry_air_kg,
    humidity_of,
    inside_of,
    phi_1,
    phi_2,
    step,
)
from service.drying.room_loads import LATENT_J_KG, Tanks

ZERO_K = 273.15
SEA_PA = 101325.0
DRIER = Dehumidifier((Rated(26.7 + ZERO_K, 0.6, 20.0 / 86400.0),), power_w=400.0)


def air(celsius: float, humidity: float) -> Inside:
    return inside_of(np.array([celsius + ZERO_K]), np.array([humidity]), SEA_PA)


def shed(changes_an_hour: float = 0.75, loss_w_k: float = 50.0, times_air: float = 6.0) -> Room:
    air_kg = float(dry_air_kg(145.8, air(20.0, 0.5), SEA_PA)[0])
    return Room(145.8, air_kg, changes_an_hour / 3600.0, loss_w_k, times_air * air_kg * CP_J_KG_K)


def went(
    start: Inside, hours: float, machines: Machines, room: Room | None = None, loads: Loads | None = None
) -> Stepped:
    """In ten-minute steps, outdoors like the start."""
    done = Stepped(start, Moved(*np.zeros((6, 1))))
    for _ in range(round(hours * 6)):
        done = step(room or shed(), done.inside, start, loads or Loads(), machines, 600.0, SEA_PA)
    return done


@given(
    celsius=st.floats(2.0, 32.0),
    humidity=st.floats(0.05, 1.0),
    changes=st.floats(0.0, 20.0),
    water=st.floats(-1e-4, 5e-3),
    heat=st.floats(-2000.0, 5000.0),
    step_s=st.floats(1.0, 3600.0),
    tank=st.floats(0.0, 3.0),
    set_humidity=st.none() | st.floats(0.3, 0.8),
)
def test_every_gram_is_accounted_for(
    celsius: float,
    humidity: float,
    changes: float,
    water: float,
    heat: float,
    step_s: float,
    tank: float,
    set_humidity: float | None,
) -> None:
    room, start = shed(changes), air(celsius, humidity)
    machines = Machines(Heater(2000.0, 294.15), DRIER, set_humidity, Tanks(tank))
    loads = Loads(water, heat, water)
    done = step(room, start, air(8.0, 0.9), loads, machines, step_s, SEA_PA)
    m = done.moved
    gained = room.air_kg * (done.inside.ratio - start.ratio)
    given = m.given_kg - m.blown_out_kg + m.tanks_kg - m.dried_kg - m.condensed_kg
    moved = sum(float(np.abs(each[0])) for each in m[:5]) + 1.0
    assert gained == pytest.approx(given, abs=1e-12 * moved)
    assert humidity_of(done.inside, SEA_PA)[0] <= 1.0 + 1e-6
    assert m.dried_kg[0] >= 0.0
    assert m.condensed_kg[0] >= 0.0


def test_two_halves_make_a_whole() -> None:
    """What is linear is exact: any cutting of the time gives the same."""
    start, outside, loads = air(18.0, 0.7), air(6.0, 0.8), Loads(4e-4, 800.0, 3e-4)
    whole = step(shed(), start, outside, loads, NOTHING_RUNS, 3600.0, SEA_PA)
    half = step(shed(), start, outside, loads, NOTHING_RUNS, 1800.0, SEA_PA)
    other = step(shed(), half.inside, outside, loads, NOTHING_RUNS, 1800.0, SEA_PA)
    assert np.array(other.inside) == pytest.approx(np.array(whole.inside), rel=1e-12)
    both = half.moved.blown_out_kg + other.moved.blown_out_kg
    assert both == pytest.approx(whole.moved.blown_out_kg, rel=1e-9)


def test_rooms_side_by_side_are_as_each_alone() -> None:
    one, other = shed(0.3), shed(2.0, loss_w_k=10.0)
    both = Room(
        145.8,
        one.air_kg,
        *(
            np.array(pair)
            for pair in zip(*([r.air_changes_1_s, r.loss_w_k] for r in (one, other)), strict=True)
        ),
        one.heat_j_k,
    )
    start = Inside(np.full(2, 293.15), np.full(2, 0.008))
    machines = Machines(Heater(1500.0, 295.15), DRIER, 0.5, Tanks(0.4))
    together = step(both, start, air(5.0, 0.8), Loads(3e-4), machines, 600.0, SEA_PA).inside
    for i, room in enumerate((one, other)):
        alone = step(
            room, Inside(*(v[:1] for v in start)), air(5.0, 0.8), Loads(3e-4), machines, 600.0, SEA_PA
        )
        assert np.array(together)[:, i] == pytest.approx(np.array(alone.inside)[:, 0], rel=1e-12)


def test_a_humidistat_holds_what_it_is_set_to_and_no_less() -> None:
    damp = went(air(21.0, 0.7), 12.0, Machines(dehumidifier=DRIER, set_humidity=0.6), shed(0.1))
    assert humidity_of(damp.inside, SEA_PA)[0] == pytest.approx(0.6, abs=1e-3)
    dry = went(air(21.0, 0.4), 2.0, Machines(dehumidifier=DRIER, set_humidity=0.6), shed(0.1))
    assert dry.moved.dried_kg[0] == 0.0
    assert humidity_of(dry.inside, SEA_PA)[0] == pytest.approx(0.4, abs=1e-9)


def test_a_dehumidifier_warms_the_room_by_what_it_draws_and_what_it_takes() -> None:
    """Steady: (n m cp + UA)(T - T_out) is its electricity and the latent heat of what it takes."""
    room = shed(0.2, loss_w_k=40.0)
    done = went(air(20.0, 0.8), 150.0, Machines(dehumidifier=DRIER), room)
    loses = room.air_changes_1_s * room.air_kg * CP_J_KG_K + room.loss_w_k
    expected = 400.0 + LATENT_J_KG * done.moved.dried_kg[0] / 600.0
    assert loses * (done.inside.temperature_k[0] - 293.15) == pytest.approx(expected, rel=1e-3)


def test_in_the_cold_it_stands() -> None:
    done = went(air(4.0, 0.95), 1.0, Machines(dehumidifier=DRIER))
    assert done.moved.dried_kg[0] == 0.0
    assert done.inside.temperature_k[0] == pytest.approx(4.0 + ZERO_K, abs=1e-9)


def test_water_that_leaves_moulds_cools_the_room_and_peoples_does_not() -> None:
    by_moulds = step(
        shed(), air(20.0, 0.5), air(20.0, 0.5), Loads(1e-3, 0.0, 1e-3), NOTHING_RUNS, 600.0, SEA_PA
    )
    by_people = step(shed(), air(20.0, 0.5), air(20.0, 0.5), Loads(1e-3), NOTHING_RUNS, 600.0, SEA_PA)
    assert by_moulds.inside.temperature_k[0] < 293.15 - 0.5
    assert by_people.inside.temperature_k[0] == pytest.approx(293.15, abs=1e-9)
    assert by_moulds.inside.ratio == pytest.approx(by_people.inside.ratio, rel=1e-12)


def test_what_air_cannot_hold_runs_down_the_walls_and_warms_them() -> None:
    room, start = shed(0.0, loss_w_k=0.0), air(12.0, 0.98)
    done = step(room, start, start, Loads(2e-3), NOTHING_RUNS, 3600.0, SEA_PA)
    assert humidity_of(done.inside, SEA_PA)[0] == pytest.approx(1.0, abs=1e-5)
    assert done.moved.condensed_kg[0] > 0.5 * 2e-3 * 3600.0
    warmed = room.heat_j_k * (done.inside.temperature_k[0] - start.temperature_k[0])
    assert warmed == pytest.approx(LATENT_J_KG * done.moved.condensed_kg[0], rel=1e-9)


def test_a_shut_room_keeps_what_it_is_given() -> None:
    """No air changes: nothing is divided by them."""
    room = shed(0.0, loss_w_k=0.0)
    done = step(room, air(20.0, 0.3), air(0.0, 0.9), Loads(1e-4, 500.0), NOTHING_RUNS, 1800.0, SEA_PA)
    assert room.air_kg * (done.inside.ratio - air(20.0, 0.3).ratio) == pytest.approx(0.18, rel=1e-9)
    assert room.heat_j_k * (done.inside.temperature_k - 293.15) == pytest.approx(9e5, rel=1e-9)


def test_a_heater_without_a_thermostat_gives_all_it_has() -> None:
    done = step(shed(), air(30.0, 0.3), air(30.0, 0.3), Loads(), Machines(Heater(1200.0)), 600.0, SEA_PA)
    assert done.moved.heater_j[0] == pytest.approx(1200.0 * 600.0)
    held = step(
        shed(), air(30.0, 0.3), air(30.0, 0.3), Loads(), Machines(Heater(1200.0, 294.0)), 600.0, SEA_PA
    )
    assert held.moved.heater_j[0] == 0.0


def test_more_air_through_the_room_brings_it_nearer_to_outdoors() -> None:
    outside = air(5.0, 0.8)
    found = [
        step(
            replace(shed(), air_changes_1_s=n / 3600.0),
            air(20.0, 0.6),
            outside,
            Loads(),
            NOTHING_RUNS,
            900.0,
            SEA_PA,
        )
        for n in (0.1, 1.0, 10.0)
    ]
    assert [float(f.inside.ratio[0]) for f in found] == sorted(
        (float(f.inside.ratio[0]) for f in found), reverse=True
    )


@pytest.mark.parametrize("x", [0.0, 1e-9, 1e-7, 9.9e-4, 1.1e-3, 0.5, 40.0])
def test_the_curves_of_a_step(x: float) -> None:
    """Against their series and their closed forms."""
    series_1 = (
        sum((-x) ** k / float(np.prod(np.arange(1.0, k + 2.0))) for k in range(170)) if x < 20 else 1.0 / x
    )
    series_2 = (
        sum((-x) ** k / float(np.prod(np.arange(1.0, k + 3.0))) for k in range(168))
        if x < 20
        else (x - 1.0) / x**2
    )
    assert float(phi_1(x)) == pytest.approx(series_1, rel=1e-9)
    assert float(phi_2(x)) == pytest.approx(series_2, rel=1e-9)
