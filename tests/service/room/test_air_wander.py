"""How a room's air wanders: what each part remembers, and what is learned of them from hours that were measured."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.room.air_wander import (
    LAGS_H,
    LEAST_SHARE,
    SHARE_UNKNOWN,
    USUAL_HUMIDITY2,
    USUAL_TEMPERATURE_K2,
    Array,
    learn,
    memory,
    variogram,
)

FOUR_WEEKS = 28 * 24
NEVER = np.full(FOUR_WEEKS, np.nan)
WEEKS, DAYS, HOURS, SMOOTH, DAILY, HALF_DAILY, FLICKER = range(7)


def forgetting(tau_h: float, sd: float, seed: int = 3, hours: int = FOUR_WEEKS) -> Array:
    """A process that forgets at once with this time constant: x[n+1] = a x[n] + noise (exact discretization)."""
    keeps = np.exp(-1.0 / tau_h)
    noise = np.random.default_rng(seed).normal(0.0, sd * np.sqrt(1 - keeps**2), hours)
    out = np.zeros(hours)
    out[0] = noise[0] / np.sqrt(1 - keeps**2)
    for i in range(1, hours):
        out[i] = keeps * out[i - 1] + noise[i]
    return out


def daily(amplitude: float, hours: int = FOUR_WEEKS) -> Array:
    return np.asarray(amplitude * np.sin(2 * np.pi * np.arange(hours) / 24.0))


class TestMemory:
    def test_now_is_remembered_wholly(self) -> None:
        assert memory(np.zeros(1)) == pytest.approx(np.ones((7, 1)))

    @pytest.mark.parametrize(("part", "tau_h"), [(WEEKS, 200.0), (DAYS, 50.0), (HOURS, 10.0)])
    def test_what_forgets_at_once_has_lost_all_but_one_in_e_after_its_time(
        self, part: int, tau_h: float
    ) -> None:
        assert memory(np.array([tau_h]))[part] == pytest.approx(np.exp(-1.0))

    def test_the_smooth_one_has_a_slope(self) -> None:
        """Matern 3/2 leaves 1 with slope 0 (Rasmussen & Williams 2006, eq. 4.17), so its paths have a trend."""
        lost = 1.0 - memory(np.array([0.01, 0.02]))
        assert lost[SMOOTH, 1] / lost[SMOOTH, 0] == pytest.approx(4.0, rel=0.01)
        assert lost[HOURS, 1] / lost[HOURS, 0] == pytest.approx(2.0, rel=0.01)

    def test_a_day_later_the_daily_swing_is_back_and_half_a_day_later_upside_down(self) -> None:
        later = memory(np.array([12.0, 24.0]))
        assert later[DAILY, 0] < -0.95
        assert later[DAILY, 1] > 0.95
        assert later[HALF_DAILY, 0] > 0.95

    def test_flicker_is_gone_at_once(self) -> None:
        assert memory(np.array([0.25]))[FLICKER] == 0.0

    @given(st.lists(st.floats(0, 700), min_size=2, max_size=12, unique=True))
    def test_each_is_a_correlation(self, times: list[float]) -> None:
        """Of any instants, no combination has a negative variance."""
        t = np.array(times)
        for part in memory(t[:, None] - t):
            assert np.linalg.eigvalsh(part).min() > -1e-9

    def test_before_is_as_after(self) -> None:
        assert memory(np.array([-5.0])) == pytest.approx(memory(np.array([5.0])))


class TestVariogram:
    def test_of_a_straight_rise(self) -> None:
        """Half the squared change over h hours of a rise by 1 an hour: h2 / 2."""
        half, pairs = variogram(np.arange(400.0))
        assert half == pytest.approx(0.5 * LAGS_H.astype(float) ** 2)
        assert pairs == pytest.approx(400.0 - LAGS_H)

    def test_of_white_noise_it_is_its_variance(self) -> None:
        half, _ = variogram(np.random.default_rng(1).normal(0.0, 2.0, 20000))
        assert half == pytest.approx(np.full(LAGS_H.size, 4.0), rel=0.05)

    def test_of_one_that_forgets_it_is_what_the_part_says(self) -> None:
        """1 - exp(-h / tau), the exponential variogram (Cressie 1985)."""
        half, _ = variogram(forgetting(10.0, 1.0, hours=40000))
        expected = 1.0 - np.exp(-LAGS_H / 10.0)
        assert half == pytest.approx(expected, rel=0.1)

    def test_a_gap_loses_pairs_and_nothing_else(self) -> None:
        rise = np.arange(400.0)
        rise[100:150] = np.nan
        half, pairs = variogram(rise)
        assert half == pytest.approx(0.5 * LAGS_H.astype(float) ** 2)
        assert pairs[0] == 399 - 51

    def test_of_nothing(self) -> None:
        half, pairs = variogram(NEVER)
        assert not half.any()
        assert not pairs.any()


class TestLearned:
    def test_a_room_nobody_measured_has_a_share_of_what_is_usual_outdoors(self) -> None:
        found = learn(NEVER, NEVER)
        assert found.temperature_k2 == pytest.approx(SHARE_UNKNOWN * USUAL_TEMPERATURE_K2, rel=0.03)
        assert found.humidity2 == pytest.approx(SHARE_UNKNOWN * USUAL_HUMIDITY2, rel=0.03)

    def test_half_as_lively_has_a_quarter_of_the_variance(self) -> None:
        wild = forgetting(50.0, 3.0) + daily(3.0)
        full, half = learn(wild, NEVER).temperature_k2, learn(0.5 * wild, NEVER).temperature_k2
        assert half.sum() == pytest.approx(0.25 * full.sum(), rel=0.02)

    @pytest.mark.parametrize("sd", [0.3, 1.0, 4.0])
    def test_of_four_weeks_the_variance_is_about_right(self, sd: float) -> None:
        """Of a room without a daily swing that forgets with ten hours: within a factor of 2.5, as four weeks hold few
        of the weeks that a room may yet wander over."""
        seen = forgetting(10.0, sd)
        found = learn(seen, NEVER).temperature_k2
        assert 0.6 < found.sum() / seen.var() < 2.5

    def test_a_daily_swing_is_known_from_wandering(self) -> None:
        swinging = learn(daily(3.0) + forgetting(50.0, 0.3), NEVER).temperature_k2
        wandering = learn(forgetting(50.0, 2.0), NEVER).temperature_k2
        assert swinging[DAILY] / swinging.sum() > 0.5
        assert wandering[DAILY] / wandering.sum() < 0.15

    def test_a_room_that_remembers_for_weeks_is_known_from_one_that_forgets_in_hours(self) -> None:
        slow, quick = (learn(forgetting(tau, 2.0), NEVER).temperature_k2 for tau in (200.0, 8.0))
        assert slow[WEEKS] / slow.sum() > 1.3 * quick[WEEKS] / quick.sum()
        assert quick[HOURS] / quick.sum() > 2 * slow[HOURS] / slow.sum()

    def test_some_still_hours_do_not_make_a_dead_room(self) -> None:
        """Of variances: after six hours some hundredths of what is usual, after four weeks next to nothing."""
        usual = USUAL_TEMPERATURE_K2.sum()
        hours = [
            np.where(np.arange(FOUR_WEEKS) >= FOUR_WEEKS - n, 294.15, np.nan) for n in (6, 24, FOUR_WEEKS)
        ]
        left = [learn(each, NEVER).temperature_k2.sum() / usual for each in hours]
        assert 0.03 < left[0] < 0.15
        assert 0.01 < left[1] < left[0]
        assert left[2] < 0.001

    def test_few_days_are_drawn_to_the_usual_shares(self) -> None:
        """A day of a room that does nothing but swing: its swing may yet be chance."""
        short = NEVER.copy()
        short[-30:] = daily(3.0, 30)
        little = learn(short, NEVER).temperature_k2
        much = learn(daily(3.0), NEVER).temperature_k2
        usual = USUAL_TEMPERATURE_K2[DAILY] / USUAL_TEMPERATURE_K2.sum()
        assert usual < little[DAILY] / little.sum() < much[DAILY] / much.sum()

    def test_each_quantity_is_learned_by_itself(self) -> None:
        found = learn(forgetting(50.0, 3.0), NEVER)
        assert found.humidity2 == pytest.approx(learn(NEVER, NEVER).humidity2)

    def test_a_dead_still_room_keeps_something(self) -> None:
        found = learn(np.full(FOUR_WEEKS, 294.15), np.full(FOUR_WEEKS, 0.5))
        assert (found.temperature_k2 > 0).all()
        assert (found.humidity2 > 0).all()
        assert found.temperature_k2.sum() < 0.02

    @settings(deadline=None)
    @given(st.floats(0.05, 10.0), st.floats(2.0, 300.0), st.integers(1, 1000), st.floats(0.0, 5.0))
    def test_any_room_has_possible_variances(self, sd: float, tau_h: float, seed: int, swing: float) -> None:
        found = learn(
            forgetting(tau_h, sd, seed, 200) + daily(swing, 200), forgetting(tau_h, 0.1, seed + 1, 200)
        )
        assert (found.temperature_k2 > 0).all()
        for part in found.covariance:
            assert np.linalg.eigvalsh(part).min() >= -1e-12

    def test_no_part_is_ruled_out(self) -> None:
        found = learn(forgetting(10.0, 3.0), NEVER).temperature_k2
        assert (
            found / found.sum() > 0.1 * LEAST_SHARE * USUAL_TEMPERATURE_K2 / USUAL_TEMPERATURE_K2.sum()
        ).all()
