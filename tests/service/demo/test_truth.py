"""What the demo's shells really do, and what scales, guns and hands tell of them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from service.demo.truth import (
    FACE_K,
    HAND,
    HOOK_KG,
    SCALE_KG,
    Truth,
    feels_damp,
    outside_m2,
    read_k,
    weighed_kg,
)
from service.drying.shell import Coat, Parameters, ZoneShape
from service.drying.zone import ZoneState
from tests.service.room.cases import FACE, HOLE, PARAMETERS, T0, h, mould, seconds, steady

COAT = Coat(1.0e-3)


def wet(saturation: float, surface_k: float = 290.0) -> ZoneState:
    return ZoneState(ZoneShape(0.4, 0.3), 0.0, surface_k, (COAT,), np.full(4, saturation))


def multipliers(numbers: Parameters) -> tuple[float, float, float]:
    return numbers.transfer_multiplier, numbers.diffusivity_multiplier, numbers.thickness_multiplier


class TestNumbers:
    def test_by_itself_it_is_the_usual(self) -> None:
        assert Truth().numbers(PARAMETERS, "Knot", "1") == PARAMETERS

    def test_of_the_shop_and_of_a_sheltered_hook(self) -> None:
        truth = Truth(0.9, 0.8, 1.1, frozenset({"9"}), 0.5)
        assert multipliers(truth.numbers(PARAMETERS, "Knot", "1")) == pytest.approx((0.9, 0.8, 1.1))
        assert multipliers(truth.numbers(PARAMETERS, "Knot", "9")) == pytest.approx((0.45, 0.8, 1.1))

    def test_no_two_moulds_are_alike_but_each_is_always_the_same(self) -> None:
        truth = Truth(uneven=0.1)
        found = [multipliers(truth.numbers(PARAMETERS, f"Knot {i}", "1")) for i in range(300)]
        assert found[7] == multipliers(truth.numbers(PARAMETERS, "Knot 7", "2"))
        logs = np.log(found)
        assert logs.mean(axis=0) == pytest.approx(np.zeros(3), abs=0.02)
        assert logs.std(axis=0) == pytest.approx(np.full(3, 0.1), rel=0.15)

    def test_what_the_shop_set_stays_the_middle(self) -> None:
        windy = replace(PARAMETERS, transfer_multiplier=2.0)
        assert Truth(draught=0.5).numbers(windy, "Knot", "1").transfer_multiplier == pytest.approx(1.0)


def test_as_it_really_is_a_slow_shell_is_wetter() -> None:
    p, now_s = mould(0, zones=(FACE, HOLE)), seconds(T0 + h(2))
    usual, slow = (
        truth.now(p, steady(), PARAMETERS, now_s) for truth in (Truth(), Truth(draught=0.6, drying=0.6))
    )
    assert [state.time_s for state in usual] == [now_s, now_s]
    for one, other in zip(usual, slow, strict=True):
        assert other.newest_saturation > one.newest_saturation + 0.03


class TestTold:
    def test_a_scale_shows_hook_wax_shell_and_water_to_ten_grams(self) -> None:
        """1 mm on both sides of 0.4 x 0.3 m: 0.24 m2 of 1.65 kg/m2, half full of 0.29 x 998 x 0.001 kg/m2."""
        shown = [weighed_kg([wet(0.5)], [FACE], 2.0, f"{i}") for i in range(200)]
        true = HOOK_KG + 2.0 + 0.24 * (1.65 + 0.5 * 0.29 * 0.998)
        assert all(round(each, 2) == each for each in shown)
        assert np.mean(shown) == pytest.approx(true, abs=0.002)
        assert np.std(shown) == pytest.approx(math.hypot(SCALE_KG, 0.01 / math.sqrt(12)), rel=0.3)
        assert weighed_kg([wet(0.5)], [FACE], 2.0, "7") == shown[7]

    def test_a_gun_shows_a_tenth_of_a_degree(self) -> None:
        shown = [read_k(wet(0.5, 291.26), f"{i}") for i in range(300)]
        assert all(round(each, 1) == each for each in shown)
        assert np.mean(shown) == pytest.approx(291.26, abs=0.08)
        assert np.std(shown) == pytest.approx(FACE_K, rel=0.2)

    @pytest.mark.parametrize(
        ("off", "share"), [(-4 * HAND, 0.0), (-HAND, 0.16), (0.0, 0.5), (HAND, 0.84), (4 * HAND, 1.0)]
    )
    def test_a_hand_draws_its_line_about_the_limit(self, off: float, share: float) -> None:
        """A normal distribution has 16 % beyond one standard deviation."""
        said = [feels_damp([wet(0.1), wet(0.35 + off)], 0.35, f"{i}") for i in range(400)]
        assert np.mean(said) == pytest.approx(share, abs=0.07)


def test_the_area_a_coat_covers() -> None:
    assert outside_m2(FACE) == pytest.approx(2 * 0.4 * 0.3)
    assert outside_m2(HOLE) == pytest.approx(3.14 * 0.04 * 0.08)
