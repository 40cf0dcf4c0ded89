"""From what members showed to what is thought of the mould, and to what it teaches the shop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from service.learning.linear import Linear
from service.learning.lives import Shown
from service.learning.noise import shared, variance
from service.learning.prior import prior
from service.learning.site import Belief, pool
from service.learning.story import Evidence, Story
from service.learning.teach import Observed, Taught, site_of, teach
from service.learning.unknowns import unknowns_of
from tests.service.learning.scene import a_story, felt, read, redipped, start, weighed

Array = NDArray[np.float64]

UNKNOWNS = unknowns_of(a_story())
SHOP, ALL = len(UNKNOWNS.effects), len(UNKNOWNS.effects) + UNKNOWNS.own.size


def a_line(n: int, seed: int = 1, constant: Sequence[float] | None = None) -> Linear:
    draw = np.random.default_rng(seed)
    return Linear(np.array(constant or [0.0] * n), draw.normal(size=(n, ALL)), np.zeros((n, n)))


def taught(story: Story, line: Linear, before: tuple[Array, Array] | None = None) -> Taught:
    shown = [Shown(np.zeros(4), 1) for _ in story.evidence]
    return teach(story, UNKNOWNS, before or start(UNKNOWNS), shown, line)


def faces(n: int) -> list[Evidence]:
    return [read(float(hour), 290.0 + hour / 10.0, number=hour) for hour in range(1, n + 1)]


class TestSite:
    @pytest.mark.parametrize("seed", [1, 2, 3])
    def test_has_the_moulds_own_integrated_out(self, seed: int) -> None:
        draw = np.random.default_rng(seed)
        root = draw.normal(size=(6, 9))
        observed = Observed(draw.normal(size=6), draw.normal(size=(6, ALL)), root @ root.T)
        site = site_of(a_story(), UNKNOWNS, observed, faces(6))
        assert site
        joint = observed.slope.T @ np.linalg.solve(observed.spread, observed.slope)
        joint[SHOP:, SHOP:] += np.diag(1.0 / UNKNOWNS.own**2)
        shift = observed.slope.T @ np.linalg.solve(observed.spread, observed.off)
        across = np.linalg.solve(joint[SHOP:, SHOP:], np.column_stack([joint[SHOP:, :SHOP], shift[SHOP:]]))
        assert site.precision == pytest.approx(joint[:SHOP, :SHOP] - joint[:SHOP, SHOP:] @ across[:, :SHOP])
        assert site.shift == pytest.approx(shift[:SHOP] - joint[:SHOP, SHOP:] @ across[:, SHOP])

    def test_with_the_prior_is_what_is_thought_of_the_shop(self) -> None:
        found = taught(a_story(evidence=faces(4)), a_line(4, constant=[290.0] * 4))
        assert found.site
        mean, covariance = pool([found.site], 0.0).about(UNKNOWNS.effects)
        assert mean == pytest.approx(found.mean[:SHOP])
        assert covariance == pytest.approx(found.covariance[:SHOP, :SHOP])

    def test_is_the_same_whatever_was_thought_of_the_shop_before(self) -> None:
        story, line = a_story(evidence=faces(4)), a_line(4, constant=[290.0] * 4)
        sure = Belief(UNKNOWNS.effects, np.full(SHOP, 0.01), 0.5 * prior(UNKNOWNS.effects)[1])
        plain = taught(story, line).site
        other = taught(story, line, UNKNOWNS.start(*sure.about(UNKNOWNS.effects))).site
        assert plain
        assert other
        assert other.precision == pytest.approx(plain.precision, rel=0.1)
        assert other.shift == pytest.approx(plain.shift, rel=0.3, abs=0.5)

    def test_tells_what_it_rests_on(self) -> None:
        heard = [felt(1.0), felt(2.0), redipped(5.0), read(6.0, 290.0), read(8.0, 290.0), weighed(9.0)]
        site = taught(a_story(evidence=heard), a_line(6, constant=[0.5, 0.5, 0.5, 290.0, 290.0, 2.0])).site
        assert site
        assert site.pieces == (("FaceRead", 2), ("Felt", 2), ("Redipped", 1), ("Weighed", 1))
        assert (site.mould, site.at_s, site.effects) == (1, 9.0 * 3600.0, UNKNOWNS.effects)

    def test_what_is_left_out_is_no_part_of_it(self) -> None:
        story = a_story(evidence=[*faces(4), read(9.0, 400.0)])
        line = a_line(5, constant=[290.0] * 5)
        with_it, without = taught(story, line), taught(a_story(evidence=faces(4)), _first(line, 4))
        assert with_it.heard[4].left_out
        assert with_it.site
        assert without.site
        assert with_it.site.precision == pytest.approx(without.site.precision)
        assert with_it.site.shift == pytest.approx(without.site.shift)
        assert with_it.site.at_s == 4 * 3600.0
        assert with_it.mean == pytest.approx(without.mean)

    def test_where_all_is_left_out_there_is_none(self) -> None:
        found = taught(a_story(evidence=[read(1.0, 900.0)]), a_line(1, constant=[290.0]))
        assert found.heard[0].left_out
        assert found.site is None
        assert found.mean.tolist() == start(UNKNOWNS)[0].tolist()
        assert found.covariance.tolist() == start(UNKNOWNS)[1].tolist()


def _first(line: Linear, n: int) -> Linear:
    return Linear(line.constant[:n], line.slope[:n], line.left_over[:n, :n])


class TestTare:
    LINE = a_line(4, constant=[1.0, 0.9, 1.8, 1.7])

    def story(self, tare_kg: float, changes_h: Sequence[float] = (), extra_kg: float = 0.0) -> Story:
        masses = [(1.0, 1.2), (3.0, 1.1), (6.0, 2.2), (8.0, 2.0)]
        heard = [weighed(h, tare_kg + kg + (extra_kg if h > 5.0 else 0.0), number=int(h)) for h, kg in masses]
        return a_story(evidence=heard, changes_h=changes_h)

    def test_may_be_anything(self) -> None:
        light, heavy = taught(self.story(0.1), self.LINE), taught(self.story(1.2), self.LINE)
        assert light.mean == pytest.approx(heavy.mean, abs=1e-4)
        assert light.covariance == pytest.approx(heavy.covariance, abs=1e-4)

    def test_is_only_known_by_differences(self) -> None:
        found = taught(self.story(0.5), self.LINE)
        n, differ = 4, np.diff(np.eye(4), axis=0)
        slope = differ @ self.LINE.slope
        story = self.story(0.5)
        spread = shared(story, [Shown(np.zeros(4), 1)] * n) + np.diag(
            [variance(one) for one in story.evidence]
        )
        off = differ @ (np.array([1.2, 1.1, 2.2, 2.0]) - self.LINE.constant)
        mean, covariance = start(UNKNOWNS)
        gain = covariance @ slope.T @ np.linalg.inv(slope @ covariance @ slope.T + differ @ spread @ differ.T)
        assert found.mean == pytest.approx(mean + gain @ off, abs=2e-3)

    def test_a_single_weight_teaches_nothing(self) -> None:
        found = taught(replace(self.story(0.5), evidence=self.story(0.5).evidence[:1]), _first(self.LINE, 1))
        assert found.mean == pytest.approx(start(UNKNOWNS)[0], abs=1e-6)
        assert found.covariance == pytest.approx(start(UNKNOWNS)[1], abs=1e-5)

    def test_wire_set_between_makes_no_shell(self) -> None:
        plain = taught(self.story(0.5, changes_h=(4.0,)), self.LINE)
        wired = taught(self.story(0.5, changes_h=(4.0,), extra_kg=0.4), self.LINE)
        assert wired.mean == pytest.approx(plain.mean, abs=1e-3)
        unsaid = taught(self.story(0.5, extra_kg=0.4), self.LINE)
        assert unsaid.mean != pytest.approx(plain.mean, abs=1e-2)
