"""What several moulds taught together."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from service.learning.effect import Effect, EffectKind
from service.learning.prior import prior, spread
from service.learning.site import HALF_LIFE_S, NOTHING_HEARD, Belief, Site, faded, pool
from service.learning.update import update

Array = NDArray[np.float64]

DRAUGHT, WINDOW, DOOR = (Effect(EffectKind.DRAUGHT, of) for of in ("", "window", "door"))
DRYING = Effect(EffectKind.DRYING)
NOW_S = 1.7e9
SHOP_2, HOOK_2 = spread(DRAUGHT) ** 2, spread(WINDOW) ** 2


def heard(effects: tuple[Effect, ...], seed: int, n: int = 3) -> tuple[Array, Array, Array]:
    """Some linear evidence about these effects: slope, off, spread."""
    draw = np.random.default_rng(seed)
    root = draw.normal(size=(n, n + 3))
    return draw.normal(size=(n, len(effects))), draw.normal(size=n), root @ root.T


def a_site(effects: tuple[Effect, ...], seed: int, mould: int = 1, at_s: float = NOW_S) -> Site:
    slope, off, spread = heard(effects, seed)
    weighed = np.linalg.solve(spread, slope)
    return Site(mould, effects, slope.T @ weighed, weighed.T @ off, at_s)


class TestPool:
    def test_is_one_solution_of_all_evidence_together(self) -> None:
        every = (DRAUGHT, DOOR, WINDOW, DRYING)
        one, other = (DRAUGHT, DRYING, WINDOW), (DOOR, DRAUGHT)
        belief = pool([a_site(one, 1, 1), a_site(other, 2, 2)], NOW_S)
        slope, off, spread = np.zeros((6, 4)), np.zeros(6), np.zeros((6, 6))
        for row, effects, seed in ((0, one, 1), (3, other, 2)):
            where = [every.index(effect) for effect in effects]
            slope[row : row + 3, where], off[row : row + 3], spread[row : row + 3, row : row + 3] = heard(
                effects, seed
            )
        mean, covariance = update(*prior(every), slope, off, spread)
        found_mean, found = belief.about(every)
        assert found_mean == pytest.approx(mean)
        assert found == pytest.approx(covariance)

    def test_of_nothing_is_the_prior(self) -> None:
        belief = pool([], NOW_S)
        assert belief.effects == ()
        assert belief.about((DRAUGHT, WINDOW))[1].tolist() == prior((DRAUGHT, WINDOW))[1].tolist()

    def test_order_makes_no_difference(self) -> None:
        sites = [a_site((DRAUGHT, hook), n, n) for n, hook in enumerate((WINDOW, DOOR, WINDOW, DOOR))]
        there, back = pool(sites, NOW_S), pool(sites[::-1], NOW_S)
        assert there.effects == back.effects
        assert there.mean == pytest.approx(back.mean)
        assert there.covariance == pytest.approx(back.covariance)

    def test_leaves_out_a_moulds_own(self) -> None:
        own, other = a_site((DRAUGHT,), 1, mould=7), a_site((DRAUGHT,), 2, mould=8)
        assert pool([own, other], NOW_S, without=7).mean == pytest.approx(pool([other], NOW_S).mean)
        assert pool([own, other], NOW_S).mean != pytest.approx(pool([other], NOW_S).mean)

    def test_without_a_mould_nobody_knows_is_all(self) -> None:
        site = a_site((DRAUGHT,), 1)
        assert pool([site], NOW_S, without=99).mean.tolist() == pool([site], NOW_S).mean.tolist()

    def test_a_hook_profits_from_another_hooks_shop(self) -> None:
        told = Site(1, (DRAUGHT, DOOR), np.full((2, 2), 400.0), np.full(2, 400.0 * 0.6), NOW_S)
        mean, covariance = pool([told], NOW_S).about((DRAUGHT, WINDOW))
        assert mean[0] == pytest.approx(0.6 * SHOP_2 / (SHOP_2 + HOOK_2), rel=0.05)
        assert covariance.sum() < prior((DRAUGHT, WINDOW))[1].sum()
        assert mean[1] == 0.0

    def test_what_was_learned_before_an_epoch_says_nothing_after_it(self) -> None:
        belief = pool([a_site((WINDOW,), 1)], NOW_S)
        mean, covariance = belief.about((replace(WINDOW, epoch=1),))
        assert (mean[0], covariance[0, 0]) == (0.0, pytest.approx(HOOK_2))

    def test_stays_a_covariance_with_hundreds_of_sites(self) -> None:
        effects = tuple(Effect(EffectKind.DRAUGHT, f"hook {n}") for n in range(30))
        sites = [a_site((DRAUGHT, DRYING, effects[n % 30]), n, n) for n in range(300)]
        belief = pool(sites, NOW_S)
        assert (belief.covariance == belief.covariance.T).all()
        assert np.linalg.eigvalsh(belief.covariance).min() > 0.0


class TestFade:
    def test_half_is_left_exactly_after_the_half_life(self) -> None:
        assert faded(HALF_LIFE_S) == 0.5
        assert faded(0.0) == 1.0
        assert faded(3.0 * HALF_LIFE_S) == 0.125

    def test_what_was_heard_later_than_now_counts_whole(self) -> None:
        assert faded(-1.0) == 1.0

    def test_a_site_of_that_age_counts_half(self) -> None:
        site = a_site((DRAUGHT, DRYING), 1)
        old = pool([replace(site, at_s=NOW_S - HALF_LIFE_S)], NOW_S)
        half = pool([replace(site, precision=0.5 * site.precision, shift=0.5 * site.shift)], NOW_S)
        assert old.mean == pytest.approx(half.mean)
        assert old.covariance == pytest.approx(half.covariance)

    def test_after_many_years_the_prior_is_back(self) -> None:
        belief = pool([a_site((DRAUGHT,), 1, at_s=NOW_S - 40 * HALF_LIFE_S)], NOW_S)
        assert belief.mean == pytest.approx([0.0], abs=1e-9)
        assert belief.covariance[0, 0] == pytest.approx(SHOP_2)


class TestAbout:
    BELIEF = Belief((DRAUGHT, DRYING), np.array([0.1, -0.3]), np.array([[0.04, 0.01], [0.01, 0.09]]))

    def test_comes_in_the_order_asked(self) -> None:
        mean, covariance = self.BELIEF.about((DRYING, WINDOW, DRAUGHT))
        assert mean.tolist() == [-0.3, 0.0, 0.1]
        assert covariance == pytest.approx(
            np.array([[0.09, 0.0, 0.01], [0.0, HOOK_2, 0.0], [0.01, 0.0, 0.04]])
        )

    def test_of_nothing_is_nothing(self) -> None:
        mean, covariance = self.BELIEF.about(())
        assert (mean.shape, covariance.shape) == ((0,), (0, 0))

    def test_where_nothing_was_heard_is_the_prior(self) -> None:
        mean, covariance = NOTHING_HEARD.about((DRYING,))
        assert (mean.tolist(), covariance.tolist()) == ([0.0], [[pytest.approx(0.40**2)]])

    def test_changes_nothing_of_the_belief(self) -> None:
        mean, _ = self.BELIEF.about((DRAUGHT, DRYING))
        mean[0] = 9.0
        assert self.BELIEF.mean[0] == 0.1
