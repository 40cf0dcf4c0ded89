"""How a shell lies among the sound ones."""

from __future__ import annotations

from datetime import timedelta

import pytest

from service.room.among_sound import ENOUGH, LEAST_SPREAD, MOST_SPREADS, among_sound, sound_ones
from service.room.views import Factor, ShellSummary
from tests.service.room.cases import T0

SWINGS = (0.6, 0.9, 1.0, 1.0, 1.1, 1.2, 1.3, 2.6, 9.0)


def shell(mould_id: int = 1, verdict: str | None = "sound", **factors: float | None) -> ShellSummary:
    """factors: by the names of `Factor`."""
    return ShellSummary(
        mould_id,
        f"mould {mould_id}",
        "wader",
        T0,
        T0 + timedelta(days=4),
        verdict,
        (),
        {Factor[name]: value for name, value in factors.items()},
    )


def swings(*values: float | None) -> list[ShellSummary]:
    return [shell(i, PRIME_SWING=value) for i, value in enumerate(values)]


def test_median_and_mad_by_hand() -> None:
    """Median 1.1; deviations 0.5 0.2 0.1 0.1 0 0.1 0.2 1.5 7.9, their median 0.2; a spread 0.29652, so 0.3 counts."""
    found = among_sound(Factor.PRIME_SWING, 2.6, swings(*SWINGS))
    assert found is not None
    assert (found.count, found.middle) == (9, 1.1)
    assert found.spreads == pytest.approx((2.6 - 1.1) / 0.3)


def test_odd_ones_among_them_do_not_bend_it() -> None:
    usual = among_sound(Factor.PRIME_SWING, 2.6, swings(*SWINGS))
    odder = among_sound(Factor.PRIME_SWING, 2.6, swings(*SWINGS[:-1], 900.0))
    assert usual == odder


@pytest.mark.parametrize("count", [0, ENOUGH - 1])
def test_too_few_say_nothing(count: int) -> None:
    assert among_sound(Factor.PRIME_SWING, 9.0, swings(*[1.0] * count)) is None


def test_those_that_do_not_know_do_not_count() -> None:
    assert among_sound(Factor.PRIME_SWING, 9.0, swings(*[1.0] * (ENOUGH - 1), None, None)) is None
    assert among_sound(Factor.PRIME_SWING, 9.0, swings(*[1.0] * ENOUGH, None)) is not None


def test_what_is_not_known_lies_nowhere() -> None:
    assert among_sound(Factor.PRIME_SWING, None, swings(*SWINGS)) is None


def test_where_all_are_alike_a_small_difference_is_still_small() -> None:
    found = among_sound(Factor.LATE_DIPS, 1.0, [shell(i, LATE_DIPS=0.0) for i in range(9)])
    assert found is not None
    assert found.spreads == pytest.approx(1.0 / LEAST_SPREAD[Factor.LATE_DIPS])


def test_farther_than_very_far_is_not_told_apart() -> None:
    found = among_sound(Factor.PRIME_SWING, 1e6, swings(*SWINGS))
    assert found is not None
    assert found.spreads == MOST_SPREADS


@pytest.mark.parametrize(("factor", "worse"), [("THICKNESS", 2e-3), ("FINAL_WAIT", 3600.0)])
def test_thinner_and_shorter_are_the_worse_side(factor: str, worse: float) -> None:
    usual = {"THICKNESS": 8e-3, "FINAL_WAIT": 90000.0}[factor]
    sound = [shell(i, **{factor: usual}) for i in range(9)]
    less, more = (among_sound(Factor[factor], value, sound) for value in (worse, 2 * usual))
    assert less is not None
    assert more is not None
    assert less.spreads > 3.5
    assert more.spreads < 0


def test_every_factor_has_a_least_spread() -> None:
    assert set(LEAST_SPREAD) == set(Factor)


def test_sound_ones_but_itself() -> None:
    shells = [shell(1), shell(2), shell(3, "failed"), shell(4, None)]
    assert [s.mould_id for s in sound_ones(shells, but=2)] == [1]
