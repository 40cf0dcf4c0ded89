"""Moulds and room together: what does not change stays, every gram is counted, and what is done shows its effect."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from service.drying.dehumidifier import Dehumidifier, Rated
from service.drying.room_balance import Heater, Machines, humidity_of
from service.drying.room_loads import Tanks
from service.drying.solver import advance
from service.drying.wet_room import Running, Went, WetRoom, dry_together
from service.drying.zone import Limits
from tests.service.drying.batches import PARAMETERS, PRESSURE_PA, ZERO_K
from tests.service.drying.wet_rooms import AIR_KG, HOUR_S, NEXT_DIP, air, at_work, dipped, forecast, room

DRIER = Dehumidifier((Rated(26.7 + ZERO_K, 0.6, 20.0 / 86400.0),), power_w=400.0)
HEATER = Heater(2000.0, 294.65)
EVERYTHING = Machines(HEATER, DRIER, 0.56, Tanks(0.3))


def humidity(went: Went, at_h: float, place: int = 0) -> float:
    row = int(np.searchsorted(went.time_s, at_h * HOUR_S))
    inside = type(went.after)(went.after.temperature_k[row], went.after.ratio[row])
    return float(humidity_of(inside, PRESSURE_PA)[place])


def with_more(wet: WetRoom, many: int, at_h: float) -> WetRoom:
    return replace(wet, hung=((at_h * HOUR_S, dipped(many)),))


@pytest.mark.parametrize("machines", [Machines(), EVERYTHING, Machines(Heater(800.0), DRIER)])
def test_without_a_change_nothing_changes(machines: Machines) -> None:
    """To a millionth: whatever runs, and however the rooms answer."""
    wet = replace(at_work(0.3, 0.8, 2.0), now=Running(0.0, machines))
    went = dry_together(wet, 8 * HOUR_S)
    assert went.after.ratio == pytest.approx(np.stack([went.before.ratio] * 3, 1), rel=2e-6)
    assert went.after.temperature_k == pytest.approx(np.stack([went.before.temperature_k] * 3, 1), abs=1e-3)
    assert went.ready_s == pytest.approx(np.stack([went.ready_before_s] * 3, 1), abs=0.5)


def test_as_forecast_it_dries_as_anywhere_else() -> None:
    """The same zone in the same air by `advance`: within twenty seconds of its hours."""
    wet = at_work()
    plain = advance([wet.zones[0].state], [20 * HOUR_S], forecast(), PARAMETERS, [NEXT_DIP], True)[0]
    assert plain.ready_s is not None
    assert dry_together(wet, 20 * HOUR_S).ready_before_s[0] == pytest.approx(plain.ready_s, abs=20.0)


def test_more_moulds_make_the_others_wait() -> None:
    went = dry_together(with_more(at_work(), 6, 1.0), 24 * HOUR_S)
    assert np.all(went.ready_s[:6, 0] > went.ready_before_s + 10 * 60.0)
    assert humidity(went, 3.0) > 0.62
    assert went.ready_s.shape == (12, 1)
    assert np.all(went.ready_s[6:] > went.ready_s[0])


def test_the_more_and_the_less_air_the_longer() -> None:
    few, many = (
        dry_together(with_more(at_work(2.0, 0.8, 0.3), n, 1.0), 48 * HOUR_S).ready_s[0] for n in (2, 8)
    )
    assert np.all(np.diff(few) > 0.0)
    assert np.all(many > few)


def test_water_that_the_air_is_given_is_water_that_the_moulds_lost() -> None:
    """A shut room with walls that hold no heat back: the air's gain against its forecast is the moulds' difference."""
    wet = with_more(replace(at_work(), room=room(0.0)), 2, 0.5)
    went = dry_together(wet, 4 * HOUR_S)
    given = went.given_off_kg.sum(axis=0)
    gained = AIR_KG * (went.after.ratio[-1, 0] - went.before.ratio[-1])
    assert gained == pytest.approx(given[1] - given[0], rel=1e-9)
    alone = dry_together(replace(wet, hung=()), 4 * HOUR_S).given_off_kg.sum()
    assert alone > 0.0


def test_what_the_room_hardly_feels_of_its_moulds_changes_it_little() -> None:
    wet = with_more(replace(at_work(0.8, 0.8), share=np.array([1.0, 0.1])), 6, 1.0)
    went = dry_together(wet, 24 * HOUR_S)
    later = went.ready_s[0] - went.ready_before_s[0]
    assert 0.0 < later[1] < 0.2 * later[0]


@pytest.mark.parametrize(
    ("machines", "sooner"),
    [
        (Machines(dehumidifier=DRIER), True),
        (Machines(dehumidifier=DRIER, set_humidity=0.45), True),
        (Machines(Heater(2500.0, 299.15)), True),
        (Machines(tanks=Tanks(2.0)), False),
    ],
)
def test_what_is_switched_on_shows(machines: Machines, sooner: bool) -> None:
    went = dry_together(replace(at_work(), then=(Running(HOUR_S, machines),)), 24 * HOUR_S)
    moved = went.ready_s[:, 0] - went.ready_before_s
    assert np.all(moved < -5 * 60.0) if sooner else np.all(moved > 5 * 60.0)
    before = went.time_s <= HOUR_S
    assert went.after.ratio[before, 0] == pytest.approx(went.before.ratio[before], rel=2e-6)


def test_what_is_switched_off_shows_too() -> None:
    """The forecast holds with the dehumidifier on; without it the room gets damper."""
    small = Dehumidifier((Rated(26.7 + ZERO_K, 0.6, 6.0 / 86400.0),))
    wet = replace(
        at_work(), now=Running(0.0, Machines(dehumidifier=small)), then=(Running(HOUR_S, Machines()),)
    )
    went = dry_together(wet, 24 * HOUR_S)
    assert np.all(went.ready_s[:, 0] > went.ready_before_s + 5 * 60.0)
    assert humidity(went, 3.0) > 0.57


def test_a_heater_that_holds_a_forecast_above_outdoors_is_missed() -> None:
    wet = replace(at_work(), now=Running(0.0, Machines(Heater(3000.0, 294.15))), then=(Running(HOUR_S),))
    went = dry_together(wet, 12 * HOUR_S)
    assert went.after.temperature_k[-1, 0] < 292.0
    assert went.before.temperature_k[-1] > 293.5


def test_a_fan_dries_sooner_and_a_shut_one_later() -> None:
    fan = dry_together(replace(at_work(), then=(Running(HOUR_S, speed_m_s=1.2),)), 24 * HOUR_S)
    still = dry_together(replace(at_work(), then=(Running(HOUR_S, speed_m_s=0.05),)), 24 * HOUR_S)
    assert np.all(fan.ready_s[:, 0] < fan.ready_before_s - 5 * 60.0)
    assert np.all(still.ready_s[:, 0] > still.ready_before_s + 5 * 60.0)


def test_airing_with_dry_air_outside_dries_and_with_damp_air_does_not() -> None:
    dry = replace(at_work(), outside=air(5.0, 0.6), then=(Running(HOUR_S, airing=5.0),))
    damp = replace(dry, outside=air(21.0, 0.95))
    assert humidity(dry_together(damp, 4 * HOUR_S), 3.0) > humidity(dry_together(dry, 4 * HOUR_S), 3.0) + 0.1


def test_what_is_done_at_once_counts_from_the_first_moment() -> None:
    at_once = dry_together(replace(at_work(), then=(Running(0.0, speed_m_s=1.2),)), 12 * HOUR_S)
    later = dry_together(replace(at_work(), then=(Running(HOUR_S, speed_m_s=1.2),)), 12 * HOUR_S)
    assert np.all(at_once.ready_s < later.ready_s - 60.0)


def test_of_two_changes_at_one_moment_the_last_holds() -> None:
    both = (Running(HOUR_S, airing=9.0), Running(HOUR_S, speed_m_s=1.2))
    one, other = (dry_together(replace(at_work(), then=then), 12 * HOUR_S) for then in (both, both[1:]))
    assert one.ready_s == pytest.approx(other.ready_s)


def test_a_change_taken_back_is_over() -> None:
    """An hour's airing: hours later the air is as it was to be."""
    wet = replace(at_work(0.8), then=(Running(HOUR_S, airing=6.0), Running(2 * HOUR_S)))
    went = dry_together(wet, 20 * HOUR_S, splits=((np.inf, 1800.0),))
    there = went.after.ratio[:, 0] - went.before.ratio
    assert np.abs(there).max() > 4e-4
    assert abs(there[-1]) < 0.2 * np.abs(there).max()


def test_it_ends_when_all_are_there_or_nobody_wants_more() -> None:
    went = dry_together(at_work(), 96 * HOUR_S)
    assert went.time_s[-1] < 24 * HOUR_S
    assert not np.isnan(went.ready_s).any()
    calls = iter([True, True, False])
    short = dry_together(at_work(), 96 * HOUR_S, lambda: next(calls))
    assert short.time_s.size == 3
    assert np.isnan(short.ready_s).all()


def test_what_comes_hangs_from_then_on_and_not_before() -> None:
    went = dry_together(with_more(at_work(moulds=0), 3, 2.2), 24 * HOUR_S)
    before = went.time_s[1:] <= 2.2 * HOUR_S + 1.0
    assert went.given_off_kg[before] == pytest.approx(0.0, abs=1e-15)
    assert 2.2 * HOUR_S in went.time_s
    assert went.ready_before_s.size == 0
    assert went.ready_s.shape == (3, 1)


def test_final_dry_is_waited_for_too() -> None:
    wet = replace(at_work(), zones=dipped(1, 3.0, limits=Limits(0.35, 0.04)))
    went = dry_together(wet, 96 * HOUR_S)
    assert went.dry_before_s[0] > went.ready_before_s[0]


def test_in_a_crammed_closet_nothing_runs_away() -> None:
    """Forty moulds in a hundredth of the room: it fills, and stays so."""
    closet = replace(room(0.05), volume_m3=1.5, air_kg=AIR_KG / 100.0, heat_j_k=np.array([2e5]))
    wet = with_more(replace(at_work(moulds=0), room=closet), 40, 0.2)
    went = dry_together(wet, 1.2 * HOUR_S)
    inside = humidity_of(
        type(went.after)(went.after.temperature_k[:, 0], went.after.ratio[:, 0]), PRESSURE_PA
    )
    assert inside.max() <= 1.0 + 1e-6
    assert inside[-1] > 0.9
    late = went.time_s > 0.8 * HOUR_S
    assert np.abs(np.diff(inside[late])).max() < 0.15
