"""A mould's own numbers: what they make of its life, kept and compared."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from service.drying.history import AS_THE_MODEL, Multipliers
from service.learning.smoother import Numbers
from service.room.own_numbers import (
    AS_USUAL,
    NOTHING_LEARNED,
    Learned,
    ZoneNumbers,
    furthest_apart,
    own_numbers,
    packed,
    unpacked,
)
from service.room.progress import lives
from tests.service.room.cases import FACE, HOLE, mould

P = mould(0, 5, 11, zones=(FACE, HOLE))
TWO = ZoneNumbers((1.1, 1.2), (0.9, 0.8), (0.7, 0.6), (1.05, 0.95), 2.0)
PLAIN = ZoneNumbers((1.0, 1.0, 1.0), (1.0,) * 3, (1.0,) * 3, (1.0,) * 3)


class TestLived:
    def test_each_zone_has_its_own(self) -> None:
        usual, own = lives(P, 0.0), lives(P, 0.0, (TWO, AS_USUAL))
        assert own[1] == usual[1]
        first, second, third = own[0].dips
        assert first.multipliers == Multipliers(1.1, 0.9, 2.0)
        assert second.multipliers == Multipliers(1.2, 0.8, 2.0)
        assert first.coat.thickness_m == usual[0].dips[0].coat.thickness_m * 1.05
        assert second.coat.diffusivity_multiplier == 0.6
        assert (third.multipliers, third.coat.diffusivity_multiplier) == (second.multipliers, 0.6)

    def test_times_limits_and_immersion_stay(self) -> None:
        for usual, own in zip(lives(P, 0.0)[0].dips, lives(P, 0.0, (TWO, TWO))[0].dips, strict=True):
            assert (own.at_s, own.limits, own.immersion_s) == (usual.at_s, usual.limits, usual.immersion_s)

    def test_multipliers_of_one_change_nothing(self) -> None:
        """So that a shop that learned nothing yet is worked out bit by bit as it always was."""
        assert lives(P, 0.0, (PLAIN, PLAIN)) == lives(P, 0.0)
        assert lives(P, 0.0)[0].dips[0].multipliers == AS_THE_MODEL

    def test_each_zone_needs_its_own(self) -> None:
        with pytest.raises(ValueError, match="zip"):
            lives(P, 0.0, (TWO,))


def test_then_the_others_for_the_dips_after() -> None:
    longer = ZoneNumbers((5.0, 5.0, 1.3), (5.0, 5.0, 0.7), (5.0, 5.0, 0.5), (5.0, 5.0, 1.1), 9.0)
    both = TWO.then(longer)
    assert (both.transfer, both.sorptivity) == ((1.1, 1.2, 1.3), (0.9, 0.8, 0.7))
    assert (both.diffusivity, both.thickness) == ((0.7, 0.6, 0.5), (1.05, 0.95, 1.1))
    assert (both.stirring, both.dips) == (2.0, 3)


def test_from_what_the_smoother_found_to_six_digits() -> None:
    values = np.array([1.23456789, 0.000123456789])
    (found,) = own_numbers([Numbers(values, values, values, values, 7.654321098)])
    assert found.transfer == found.thickness == (1.23457, 0.000123457)
    assert found.stirring == 7.65432


def test_kept_as_text_it_comes_back_to_the_last_digit() -> None:
    own = (TWO, PLAIN)
    back = unpacked(json.loads(json.dumps(packed(own))))
    assert back == own
    assert Learned(back).digest == Learned(own).digest


class TestFurthestApart:
    def test_the_largest_share_of_any(self) -> None:
        other = ZoneNumbers((1.1, 1.2), (0.9, 0.8), (0.7, 0.66), (1.05, 0.95), 2.0)
        assert furthest_apart((TWO,), (other,)) == pytest.approx(math.log(1.1))
        assert furthest_apart((TWO,), (TWO,)) == 0.0
        assert furthest_apart((), ()) == 0.0

    def test_of_other_dips_they_cannot_be_compared(self) -> None:
        assert furthest_apart((TWO,), (PLAIN,)) == math.inf
        assert furthest_apart((TWO,), ()) == math.inf


class TestLearned:
    def test_whether_anything_makes_a_difference(self) -> None:
        assert NOTHING_LEARNED.of_the_usual
        assert Learned((PLAIN,)).of_the_usual
        assert not Learned((TWO,)).of_the_usual

    def test_other_numbers_or_another_doubt_are_another_text(self) -> None:
        texts = {
            each.digest for each in (NOTHING_LEARNED, Learned((TWO,)), Learned((), (0.1, 0.2, 0.3, 0.4)))
        }
        assert len(texts) == 3
