"""How many shells it takes."""

from __future__ import annotations

import math

import numpy as np
import pytest

from service.failures.ranks import Group, counted_p, ranked
from service.failures.sizes import (
    comparisons_at_the_floor,
    failed_needed,
    rarest,
    too_few,
    ways_at_the_floor,
)
from service.failures.tables import Table, least_p
from service.failures.views import LEAST_FAILED, LEAST_SOUND, LIMIT, Why


@pytest.mark.parametrize(
    ("failed", "sound", "why"),
    [
        (LEAST_FAILED, LEAST_SOUND, None),
        (LEAST_FAILED - 1, LEAST_SOUND, Why.TOO_FEW_FAILED),
        (LEAST_FAILED, LEAST_SOUND - 1, Why.TOO_FEW_SOUND),
        (LEAST_FAILED - 1, LEAST_SOUND - 1, Why.TOO_FEW_FAILED),
        (0, 500, Why.TOO_FEW_FAILED),
    ],
)
def test_the_floor(failed: int, sound: int, why: Why | None) -> None:
    assert too_few(failed, sound) is why


def test_the_floor_is_where_a_full_page_can_still_say_something() -> None:
    """5 and 10 wholly apart: 2 ways of 3003, which Holm's first step lets stand with up to 75 comparisons."""
    apart = Group(np.arange(5.0) + 100, np.arange(10.0))
    p = counted_p(ranked(apart))
    assert p == pytest.approx(2 / math.comb(15, 5)) == 2 / 3003
    assert p * 75 <= LIMIT < p * 76
    assert (ways_at_the_floor(), comparisons_at_the_floor()) == (3003, 75)
    fewer = Group(np.arange(4.0) + 100, np.arange(10.0))
    assert counted_p(ranked(fewer)) * 75 > LIMIT


@pytest.mark.parametrize(("failed", "sound"), [(5, 10), (6, 41), (9, 20)])
def test_no_test_goes_under_the_rarest(failed: int, sound: int) -> None:
    assert least_p([Table(failed, failed, 0, sound)]) == pytest.approx(rarest(failed, sound))
    apart = Group(np.arange(float(failed)) + 100, np.arange(float(sound)))
    assert counted_p(ranked(apart)) >= rarest(failed, sound)


class TestNeeded:
    @pytest.mark.parametrize("sound", [10, 12, 41, 1900])
    @pytest.mark.parametrize("comparisons", [1, 60, 100, 100_000])
    def test_is_the_fewest_that_can_reach_the_limit(self, sound: int, comparisons: int) -> None:
        needed = failed_needed(sound, comparisons)
        assert rarest(needed, sound) <= LIMIT / comparisons
        assert needed == LEAST_FAILED or rarest(needed - 1, sound) > LIMIT / comparisons

    def test_grows_with_what_is_looked_at(self) -> None:
        assert failed_needed(10, 100) == 5
        assert failed_needed(10, 1000) > 5

    def test_with_too_few_sound_ones_or_nothing_compared(self) -> None:
        assert failed_needed(0, 0) == LEAST_FAILED
        assert failed_needed(3, 1000) == failed_needed(LEAST_SOUND, 1000)
