"""Linear and normal evidence: against closed forms, and what does not fit with the rest."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from service.learning import update as module
from service.learning.probit import Answer
from service.learning.update import FURTHEST, Pieces, settle, update

Array = NDArray[np.float64]


@pytest.fixture
def plainly_normal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the tails of Student's t, so that closed forms hold."""
    monkeypatch.setattr(module, "FREEDOM", 1e12)


def of_one_number(values: Sequence[float], noise: float = 1.0, prior: float = 100.0) -> Pieces:
    """So many measurements of one number, of which nearly nothing is known."""
    n = len(values)
    return Pieces(np.zeros(n), np.full((n, n), prior**2), np.array(values), np.full(n, noise**2), (None,) * n)


def random_pieces(seed: int, n: int) -> Pieces:
    draw = np.random.default_rng(seed)
    root = draw.normal(size=(n, n + 2))
    return Pieces(
        draw.normal(size=n), root @ root.T, draw.normal(size=n), draw.uniform(0.2, 2.0, n), (None,) * n
    )


def conditioned(pieces: Pieces, i: int) -> tuple[float, float]:
    """What all but the i-th make of it, by conditioning a normal."""
    rest = [j for j in range(pieces.mean.size) if j != i]
    among = pieces.covariance[np.ix_(rest, rest)] + np.diag(pieces.noise[rest])
    gain = np.linalg.solve(among, pieces.covariance[rest, i])
    mean = pieces.mean[i] + gain @ (pieces.values - pieces.mean)[rest]
    return float(mean), float(pieces.covariance[i, i] - gain @ pieces.covariance[rest, i])


class TestUpdate:
    @given(seed=st.integers(0, 10_000))
    def test_is_bayes_rule_in_information_form(self, seed: int) -> None:
        draw = np.random.default_rng(seed)
        mean, slope, off = draw.normal(size=4), draw.normal(size=(6, 4)), draw.normal(size=6)
        covariance, spread = (root @ root.T for root in (draw.normal(size=(4, 6)), draw.normal(size=(6, 9))))
        precision = np.linalg.inv(covariance) + slope.T @ np.linalg.solve(spread, slope)
        shift = np.linalg.solve(covariance, mean) + slope.T @ np.linalg.solve(spread, off)
        after_mean, after = update(mean, covariance, slope, off, spread)
        assert np.linalg.inv(precision) == pytest.approx(after, rel=1e-5, abs=1e-7)
        assert np.linalg.solve(precision, shift) == pytest.approx(after_mean, rel=1e-5, abs=1e-7)

    def test_without_evidence_is_what_was_thought_before(self) -> None:
        mean, covariance = np.array([1.0, 2.0]), np.diag([1.0, 4.0])
        after_mean, after = update(mean, covariance, np.zeros((0, 2)), np.zeros(0), np.zeros((0, 0)))
        assert after_mean.tolist() == [1.0, 2.0]
        assert after.tolist() == covariance.tolist()


class TestHeldAgainstAllOthers:
    @given(seed=st.integers(0, 10_000), n=st.integers(1, 6))
    def test_is_the_normal_given_the_rest(self, seed: int, n: int) -> None:
        pieces = random_pieces(seed, n)
        kept = np.ones(n, bool)
        means, variances = module._by_others(pieces, kept, pieces.values, pieces.noise)
        for i in range(n):
            assert (means[i], variances[i]) == pytest.approx(conditioned(pieces, i), rel=1e-6, abs=1e-8)

    @given(seed=st.integers(0, 10_000))
    def test_also_for_what_does_not_count(self, seed: int) -> None:
        pieces = random_pieces(seed, 5)
        kept = np.array([True, True, False, True, True])
        means, variances = module._by_others(pieces, kept, pieces.values, pieces.noise)
        assert (means[2], variances[2]) == pytest.approx(conditioned(pieces, 2), rel=1e-6, abs=1e-8)

    def test_a_single_piece_is_held_against_what_was_thought_before(self) -> None:
        settled = settle(of_one_number([3.0], noise=3.0, prior=4.0))
        assert settled.judged[0].mean == pytest.approx(0.0)
        assert settled.judged[0].variance == pytest.approx(16.0)
        assert settled.surprises[0] == pytest.approx(3.0 / 5.0)

    def test_nothing_heard_is_no_trouble(self) -> None:
        settled = settle(of_one_number([]))
        assert (settled.kept.size, settled.judged, settled.surprises) == (0, (), ())


class TestOutliers:
    def test_one_of_six_is_left_out_and_the_others_know_nothing_of_it(self) -> None:
        good = [0.3, -0.2, 0.1, -0.4, 0.2]
        settled, alone = settle(of_one_number([*good, 30.0])), settle(of_one_number(good))
        assert settled.kept.tolist() == [True] * 5 + [False]
        assert settled.surprises[5] == pytest.approx(30.0 / np.sqrt(1.2), rel=0.05)
        assert [one.mean for one in settled.judged[:5]] == pytest.approx([one.mean for one in alone.judged])

    @pytest.mark.usefixtures("plainly_normal")
    def test_the_limit_holds_to_the_last_digit(self) -> None:
        edge = FURTHEST * 5.0
        assert settle(of_one_number([edge * (1.0 - 1e-9)], 3.0, 4.0)).kept.tolist() == [True]
        assert settle(of_one_number([edge * (1.0 + 1e-9)], 3.0, 4.0)).kept.tolist() == [False]

    def test_the_worst_goes_first_so_that_it_drags_no_good_one_out(self) -> None:
        settled = settle(of_one_number([0.0, 0.5, 12.0, 400.0, -0.3, 0.2, 0.1]))
        assert settled.kept.tolist() == [True, True, False, False, True, True, True]

    def test_if_most_say_the_same_odd_thing_they_are_believed(self) -> None:
        odd = settle(of_one_number([0.1, 30.0, 30.4, 29.8, 30.1]))
        assert odd.kept.tolist() == [False, True, True, True, True]

    def test_several_that_agree_are_believed_against_what_was_thought_before(self) -> None:
        assert settle(of_one_number([6.0], 1.0, 1.0)).kept.tolist() == [False]
        assert settle(of_one_number([6.0, 6.1, 5.9], 1.0, 1.0)).kept.all()

    def test_what_lies_off_less_counts_for_less(self) -> None:
        near, far = settle(of_one_number([0.0, 0.1, -0.1, 1.0])), settle(of_one_number([0.0, 0.1, -0.1, 3.9]))
        assert near.kept.all()
        assert far.kept.all()
        assert near.noise[3] < 1.2
        assert far.noise[3] > 2.0
        assert far.noise[:3] == pytest.approx(near.noise[:3], rel=0.2)

    def test_order_makes_no_difference(self) -> None:
        values = [0.0, 0.5, 12.0, 400.0, -0.3, 0.2, 0.1, 2.9]
        settled, reverse = settle(of_one_number(values)), settle(of_one_number(values[::-1]))
        assert settled.kept.tolist() == reverse.kept.tolist()[::-1]
        assert settled.noise == pytest.approx(reverse.noise[::-1], rel=1e-3)


def said(above: Sequence[bool], mean: float, spread: float = 0.2, lapses: float = 0.0) -> Pieces:
    """So many people asked about one number; limit 0.35."""
    n = len(above)
    answers = tuple(Answer(one, 0.35, 0.1, lapses) for one in above)
    return Pieces(np.full(n, mean), np.full((n, n), spread**2), np.zeros(n), np.full(n, 1e4), answers)


def believed(pieces: Pieces) -> tuple[float, float]:
    """The one number they all speak of, once settled."""
    settled = settle(pieces)
    n = settled.kept.sum()
    mean, covariance = update(
        pieces.mean[:1],
        pieces.covariance[:1, :1],
        np.ones((n, 1)),
        settled.values[settled.kept],
        np.diag(settled.noise[settled.kept]),
    )
    return float(mean[0]), float(covariance[0, 0])


class TestYesAndNo:
    @pytest.mark.parametrize(("many", "kept"), [(1, 0), (2, 2), (4, 4)])
    def test_several_that_agree_are_no_lapses_however_unlikely_it_was_before(
        self, many: int, kept: int
    ) -> None:
        """Thought to be 0.1 give or take 0.06, and called above 0.35: a lapse of one; the truth from two."""
        settled = settle(said([True] * many, 0.1, spread=0.06, lapses=0.05))
        assert settled.kept.sum() == kept

    def test_one_leaves_the_moments_of_the_exact_answer(self) -> None:
        pieces = said([True], 0.3)
        grid = np.linspace(-1.5, 2.0, 20001)
        weight = np.exp(-0.5 * ((grid - 0.3) / 0.2) ** 2) * np.array(
            [pieces.answers[0].likelihood(float(x), 0.0) for x in grid]  # type: ignore[union-attr]
        )
        mean = np.average(grid, weights=weight)
        assert believed(pieces) == pytest.approx(
            (mean, np.average((grid - mean) ** 2, weights=weight)), rel=1e-3
        )

    def test_of_several_nearly_so(self) -> None:
        pieces = said([True, True, False, True], 0.3, lapses=0.05)
        grid = np.linspace(-1.5, 2.0, 4001)
        weight = np.exp(-0.5 * ((grid - 0.3) / 0.2) ** 2)
        for answer in pieces.answers:
            assert answer
            weight = weight * np.array([answer.likelihood(float(x), 0.0) for x in grid])
        mean = np.average(grid, weights=weight)
        spread = np.sqrt(np.average((grid - mean) ** 2, weights=weight))
        found, variance = believed(pieces)
        assert found == pytest.approx(mean, abs=0.02)
        assert np.sqrt(variance) == pytest.approx(spread, rel=0.15)

    def test_what_was_the_likelier_answer_is_no_surprise(self) -> None:
        assert settle(said([True], 0.6)).surprises == (0.0,)

    def test_an_answer_less_likely_than_two_per_cent_is_left_out(self) -> None:
        width = np.hypot(0.1, 0.2)
        likely, unlikely = 0.35 + 2.0537 * width, 0.35 + 2.0538 * width
        assert settle(said([False], likely)).kept.tolist() == [True]
        assert settle(said([False], unlikely)).kept.tolist() == [False]

    def test_several_hands_that_agree_are_believed(self) -> None:
        assert settle(said([False] * 4, 0.85)).kept.all()
        assert settle(said([False], 0.85)).kept.tolist() == [False]
