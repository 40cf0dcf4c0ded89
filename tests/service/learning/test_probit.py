"""A yes or no as a normal observation: against integrals worked out by SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate
from scipy.stats import norm

from service.learning.probit import NO_WORD, Answer

ANSWERS = st.builds(
    Answer,
    above=st.booleans(),
    limit=st.just(0.35),
    spread=st.floats(0.05, 0.2),
    lapses=st.sampled_from([0.0, 0.03, 0.05]),
)
MEANS, VARIANCES = st.floats(0.0, 1.0), st.floats(0.001, 0.09)


def integrals(answer: Answer, mean: float, variance: float) -> tuple[float, float, float]:
    """Weight, mean and variance of the normal times the answer's chance at each number."""
    spread = float(np.sqrt(variance))
    x = np.linspace(mean - 14.0 * spread, mean + 14.0 * spread, 16001)
    side = 1.0 if answer.above else -1.0
    chance = answer.lapses + (1.0 - 2.0 * answer.lapses) * norm.cdf(side * (x - answer.limit) / answer.spread)
    density = chance * norm.pdf(x, mean, spread)
    weight, first, second = (float(integrate.simpson(x**n * density, x=x)) for n in range(3))
    return weight, first / weight, second / weight - (first / weight) ** 2


class TestAgainstIntegrals:
    @given(answer=ANSWERS, mean=MEANS, variance=VARIANCES)
    def test_likelihood(self, answer: Answer, mean: float, variance: float) -> None:
        weight, _, _ = integrals(answer, mean, variance)
        assert answer.likelihood(mean, variance) == pytest.approx(weight, rel=1e-6)

    @given(answer=ANSWERS, mean=MEANS, variance=VARIANCES)
    def test_observation_leaves_the_same_moments(self, answer: Answer, mean: float, variance: float) -> None:
        value, noise = answer.as_observation(mean, variance)
        _, middle, left = integrals(answer, mean, variance)
        share = variance / (variance + noise)
        assert mean + share * (value - mean) == pytest.approx(middle, abs=1e-6)
        if noise == NO_WORD:
            assert left > variance * (1.0 - 1e-3)
        else:
            assert variance * (1.0 - share) == pytest.approx(left, rel=1e-4)


class TestAnswer:
    def test_at_its_limit_either_is_as_likely(self) -> None:
        for above in (True, False):
            assert Answer(above, 0.35, 0.12, 0.05).likelihood(0.35, 0.01) == pytest.approx(0.5)

    def test_lapses_hold_it_away_from_certainty(self) -> None:
        answer = Answer(True, 0.35, 0.12, 0.05)
        assert answer.likelihood(9.0, 0.01) == pytest.approx(0.95)
        assert answer.likelihood(-9.0, 0.01) == pytest.approx(0.05)
        assert answer.plainly(-9.0, 0.01) == pytest.approx(0.0)

    def test_counts_spreads_against_what_was_said(self) -> None:
        variance = 0.5**2 - 0.3**2
        assert Answer(True, 1.0, 0.3, 0.0).against(2.0, variance) == pytest.approx(-2.0)
        assert Answer(False, 1.0, 0.3, 0.0).against(2.0, variance) == pytest.approx(2.0)

    def test_two_opposite_ones_mirror_each_other(self) -> None:
        value, noise = Answer(True, 0.35, 0.12, 0.05).as_observation(0.45, 0.02)
        other, other_noise = Answer(False, 0.35, 0.12, 0.05).as_observation(0.25, 0.02)
        assert value - 0.35 == pytest.approx(0.35 - other)
        assert noise == pytest.approx(other_noise)

    def test_one_that_only_a_lapse_explains_says_nothing(self) -> None:
        value, noise = Answer(True, 0.35, 0.12, 0.05).as_observation(-1.5, 0.02)
        assert noise == NO_WORD
        assert value == pytest.approx(-1.5, abs=1e-6)

    def test_one_that_everybody_would_give_says_nothing(self) -> None:
        value, noise = Answer(True, 0.35, 0.12, 0.0).as_observation(2.5, 0.02)
        assert noise == NO_WORD
        assert value == pytest.approx(2.5, abs=1e-6)

    def test_one_that_cannot_be_without_a_lapse_divides_by_nothing(self) -> None:
        value, noise = Answer(True, 0.35, 0.12, 0.0).as_observation(-50.0, 0.0001)
        assert np.isfinite([value, noise]).all()
