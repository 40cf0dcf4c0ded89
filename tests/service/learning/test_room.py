"""What readings teach of a room: sheds whose numbers are known, with outdoors measured and without."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from service.drying.air import CP_J_KG_K
from service.learning.room import (
    HEAT,
    VAPOUR,
    RoomBelief,
    RoomNumber,
    Told,
    learn_room,
    thought_before,
    worlds,
)
from tests.service.learning.sheds import AIR_KG, TrueShed, history

Array = NDArray[np.float64]

SHEDS = (TrueShed(), TrueShed(0.4, 1.5, 0.5, 9.0), TrueShed(1.6, 0.7, 0.15, 4.0, load_kg_h=0.4))
ANY = pytest.mark.parametrize("number", range(len(SHEDS)))
KINDS = list(RoomNumber)


@cache
def learned(number: int, outdoors: bool, days: int = 6) -> RoomBelief:
    return learn_room(history(SHEDS[number], days, number + 10, outdoors), Told(AIR_KG))


def truth(shed: TrueShed) -> dict[RoomNumber, float]:
    return {
        RoomNumber.AIR_CHANGES: shed.changes_an_hour / 3600.0,
        RoomNumber.MOULDS: shed.share,
        RoomNumber.FOLLOWS: shed.follows_an_hour / 3600.0,
        RoomNumber.HEAT_HELD: shed.times_air,
    }


@ANY
@pytest.mark.parametrize("outdoors", [True, False])
def test_true_numbers_lie_within_what_is_thought(number: int, outdoors: bool) -> None:
    """Within three of its own spreads, each, and with outdoors within a quarter."""
    belief = learned(number, outdoors)
    for kind, true in truth(SHEDS[number]).items():
        low, high = belief.range_of(kind, -3.0), belief.range_of(kind, 3.0)
        assert low < true < high, kind
        if outdoors:
            assert belief.range_of(kind) == pytest.approx(true, rel=0.3), kind


@ANY
def test_readings_leave_less_doubt_than_there_was(number: int) -> None:
    before, now = thought_before(Told(AIR_KG)), learned(number, True)
    for kind in KINDS:
        was = np.log(before.range_of(kind, 1.0) / before.range_of(kind))
        assert np.log(now.range_of(kind, 1.0) / now.range_of(kind)) < was, kind


def test_outdoors_measured_teach_more() -> None:
    with_them, without = learned(0, True), learned(0, False)
    assert with_them.vapour.covariance[0, 0] < without.vapour.covariance[0, 0]
    assert with_them.outdoors
    assert not without.outdoors


def test_the_steady_load_shows_only_above_outdoors_that_are_known() -> None:
    """0.15 and 0.4 kg/h, and the hygrometer reads 1e-4 high, which is one air change of it: within three spreads."""
    for number, kg_h in ((0, 0.15), (2, 0.4)):
        load = learned(number, True).load_kg_s
        assert load is not None
        offset = 1e-4 * SHEDS[number].changes_an_hour * AIR_KG
        assert load[0] * 3600.0 == pytest.approx(kg_h + offset, abs=3.0 * load[1] * 3600.0 + 0.03)
    assert learned(0, False).load_kg_s is None


def test_what_the_room_goes_back_to_is_near_what_it_is() -> None:
    for outdoors in (True, False):
        belief, there = learned(0, outdoors), history(SHEDS[0], 6, 10)
        assert belief.rests_ratio == pytest.approx(float(np.mean(there.ratio[-48:])), abs=2e-3)
        assert belief.rests_k == pytest.approx(float(np.mean(there.temperature_k[-48:])), abs=4.0)


def test_before_any_reading_it_is_the_usual_shed() -> None:
    belief = thought_before(Told())
    assert belief.range_of(RoomNumber.AIR_CHANGES) == pytest.approx(VAPOUR.rate_1_s[0])
    assert belief.range_of(RoomNumber.HEAT_HELD) == pytest.approx(1.0 / HEAT.gain[0])
    assert not belief.sized
    assert np.isnan(belief.rests_k)
    assert belief.vapour.pieces == 0


def test_what_a_person_told_is_believed_until_readings_say_otherwise() -> None:
    told = thought_before(Told(AIR_KG, 2.0 / 3600.0))
    assert told.range_of(RoomNumber.AIR_CHANGES) == pytest.approx(2.0 / 3600.0)
    assert told.range_of(RoomNumber.AIR_CHANGES, 1.0) < 2.5 / 3600.0
    wrong = learn_room(history(SHEDS[0], 6, 10), Told(AIR_KG, 2.0 / 3600.0))
    assert wrong.range_of(RoomNumber.AIR_CHANGES) < 1.4 / 3600.0


def test_without_a_size_the_moulds_share_is_hardly_known() -> None:
    belief = thought_before(Told())
    assert belief.range_of(RoomNumber.MOULDS, 1.0) > 2.0
    unsized = learn_room(history(SHEDS[0], 6, 10), Told())
    assert unsized.range_of(RoomNumber.AIR_CHANGES) == pytest.approx(0.8 / 3600.0, rel=0.3)


def test_what_a_thermostat_holds_teaches_nothing_of_how_warmth_is_lost() -> None:
    there = history(SHEDS[0], 3, 10)
    held = replace(there, temperature_k=np.full(there.temperature_k.size, 294.4))
    free, known = learn_room(held, Told(AIR_KG)), learn_room(held, Told(AIR_KG, held_k=294.15))
    assert free.range_of(RoomNumber.FOLLOWS) != pytest.approx(HEAT.rate_1_s[0], rel=0.2)
    assert known.range_of(RoomNumber.FOLLOWS) == pytest.approx(HEAT.rate_1_s[0])
    assert known.range_of(RoomNumber.AIR_CHANGES) == free.range_of(RoomNumber.AIR_CHANGES)


def test_an_hour_of_outdoors_is_not_enough() -> None:
    there = history(SHEDS[0], 2, 10)
    outside = there.outside_k.copy(), there.outside_ratio.copy()
    for row in outside:
        row[2:] = np.nan
    belief = learn_room(replace(there, outside_k=outside[0], outside_ratio=outside[1]), Told(AIR_KG))
    assert not belief.outdoors


class TestWorlds:
    def test_the_likely_one_comes_first(self) -> None:
        belief = learned(0, True)
        made = worlds(belief, 145.8)
        assert made.room.air_changes_1_s[0] == pytest.approx(belief.range_of(RoomNumber.AIR_CHANGES))
        assert made.share[0] == pytest.approx(belief.range_of(RoomNumber.MOULDS))
        times = made.room.heat_j_k / (AIR_KG * CP_J_KG_K)
        assert times[0] == pytest.approx(belief.range_of(RoomNumber.HEAT_HELD))

    @ANY
    def test_the_others_answer_weakly_and_strongly(self, number: int) -> None:
        """What a steady kilogram and a steady watt would come to; one in ten lies beyond each."""
        belief = learned(number, False)
        made = worlds(belief, 145.8)
        damper = made.share / made.room.air_changes_1_s
        assert damper[1] < damper[0] < damper[2]
        lag = belief.vapour.covariance
        spread = np.sqrt(lag[0, 0] + lag[1, 1] - 2.0 * lag[0, 1])
        assert np.log(damper[2] / damper[0]) == pytest.approx(1.2816 * spread)

    def test_no_wall_gives_heat_for_nothing(self) -> None:
        """Where the air alone would carry off more heat than is lost, something goes through the walls all the same."""
        made = worlds(thought_before(Told(AIR_KG, 20.0 / 3600.0)), 145.8)
        assert np.all(made.room.loss_w_k > 0.0)
