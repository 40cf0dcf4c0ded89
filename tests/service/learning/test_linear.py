"""The line through what members showed."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from service.learning.draws import drawn
from service.learning.linear import linearise
from service.learning.lives import Shown
from service.learning.story import Story
from service.learning.unknowns import unknowns_of
from tests.service.learning.scene import FACE, POCKET, a_story, felt, read, start, weighed

Array = NDArray[np.float64]

STORY = a_story((0.0, 5.0, 12.0), 20.0, [read(3.0), felt(6.0), weighed(15.0)], zones=(FACE, POCKET))
UNKNOWNS = unknowns_of(STORY)


def members(story: Story = STORY, count: int = 64) -> Array:
    return drawn(*start(unknowns_of(story)), count)


def true_slopes() -> Array:
    """Whatever each piece can depend on, each by something else."""
    bearing = [
        UNKNOWNS.bearing_on(1, (0,), area=False),
        UNKNOWNS.bearing_on(2, (0, 1), area=False),
        UNKNOWNS.bearing_on(3, (0, 1), area=True),
    ]
    draw = np.random.default_rng(3)
    return np.array([draw.normal(size=len(sums)) @ sums for sums in bearing])


class TestLine:
    @pytest.mark.parametrize("count", [48, 64])
    def test_is_found_exactly_where_there_is_one(self, count: int) -> None:
        x, slopes = members(count=count), true_slopes()
        shown = [
            Shown(c + slope @ x, coats)
            for c, slope, coats in zip((290.0, 0.5, 3.0), slopes, (1, 2, 3), strict=True)
        ]
        line = linearise(STORY.evidence, shown, UNKNOWNS, x)
        _, covariance = start(UNKNOWNS)
        assert line.constant == pytest.approx([290.0, 0.5, 3.0])
        assert line.slope @ covariance @ line.slope.T == pytest.approx(
            slopes @ covariance @ slopes.T, rel=1e-6
        )
        assert line.constant + line.slope @ x[:, 7] == pytest.approx([one.values[7] for one in shown])
        assert line.left_over == pytest.approx(np.zeros((3, 3)), abs=1e-12)

    def test_no_piece_depends_on_what_came_later_or_lies_elsewhere(self) -> None:
        x = members()
        noise = [Shown(np.random.default_rng(n).normal(size=64), coats) for n, coats in enumerate((1, 2, 3))]
        slope = linearise(STORY.evidence, noise, UNKNOWNS, x).slope
        bearing = [(1, (0,), False), (2, (0, 1), False), (3, (0, 1), True)]
        for piece, (coats, zones, area) in zip(slope, bearing, strict=True):
            can = UNKNOWNS.bearing_on(coats, zones, area).any(axis=0)
            assert not piece[~can].any()
            assert piece[can].all()

    def test_what_it_leaves_over_is_noise_of_its_own(self) -> None:
        x = members()
        off = 0.3 * np.random.default_rng(5).normal(size=(400, 64))
        found = [
            linearise(STORY.evidence[:1], [Shown(true_slopes()[0] @ x + one, 1)], UNKNOWNS, x).left_over[0, 0]
            for one in off
        ]
        assert np.mean(found) == pytest.approx(0.09, rel=0.05)

    def test_what_two_pieces_leave_over_together_is_seen(self) -> None:
        x = members()
        bend = 0.2 * (x[0] ** 2 - (x[0] ** 2).mean())
        shown = [Shown(bend, 1), Shown(-bend, 2)]
        left = linearise(STORY.evidence[:2], shown, UNKNOWNS, x).left_over
        assert left[0, 1] < -0.8 * np.sqrt(left[0, 0] * left[1, 1])

    def test_a_bare_wax_depends_on_nothing(self) -> None:
        x = members()
        line = linearise([weighed(-1.0)], [Shown(np.zeros(64), 0)], UNKNOWNS, x)
        assert not line.slope.any()
        assert (line.constant[0], line.left_over[0, 0]) == (0.0, 0.0)

    def test_members_that_are_all_alike_teach_nothing(self) -> None:
        x = np.tile(members()[:, :1], 64)
        line = linearise(STORY.evidence[:1], [Shown(np.full(64, 290.0), 1)], UNKNOWNS, x)
        assert line.slope == pytest.approx(np.zeros_like(line.slope))
        assert line.constant == pytest.approx([290.0])

    def test_of_fewer_members_than_unknowns_it_takes_the_largest(self) -> None:
        x = members(count=12)
        line = linearise(
            STORY.evidence[2:], [Shown(np.random.default_rng(1).normal(size=12), 3)], UNKNOWNS, x
        )
        assert np.isfinite(line.slope).all()
        assert line.left_over[0, 0] > 0.0
