"""Each piece beside what everything else makes of it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import norm

from service.learning.heard import Heard, held_against
from service.learning.noise import HAND, SHED, SHED_LATER, answer, variance
from service.learning.story import Evidence, Weighed
from service.learning.update import Judged, Pieces, Settled
from tests.service.learning.scene import a_story, felt, read, redipped, weighed

Array = NDArray[np.float64]
OFF = np.sqrt(0.13**2 - HAND**2)


def heard(
    *evidence: Evidence,
    judged: Sequence[tuple[float, float]],
    surprises: Sequence[float] | None = None,
    kept: Sequence[bool] | None = None,
    changes_h: Sequence[float] = (),
) -> tuple[Heard, ...]:
    story, n = a_story(evidence=evidence, changes_h=changes_h), len(evidence)
    noise = np.array([variance(one) for one in evidence])
    answers = tuple(answer(one, story, 1) for one in evidence)
    pieces = Pieces(np.zeros(n), np.eye(n), np.zeros(n), noise, answers)
    counts = np.array(kept or [True] * n)
    settled = Settled(
        counts, np.zeros(n), noise, tuple(Judged(*one) for one in judged), tuple(surprises or [0.0] * n)
    )
    return held_against(story, pieces, settled)


class TestWeighed:
    W = (weighed(1.0, 5.0, 11), weighed(2.0, 4.9, 12), weighed(3.0, 4.7, 13))

    def against(
        self, kept: Sequence[bool] = (True,) * 3, changes_h: Sequence[float] = ()
    ) -> list[int | None]:
        judged = [(4.95, 0.01), (4.85, 0.01), (4.8, 0.01)]
        return [one.against for one in heard(*self.W, judged=judged, kept=kept, changes_h=changes_h)]

    def test_is_told_since_the_one_before(self) -> None:
        found = heard(
            *self.W, judged=[(4.95, 0.01), (4.85, 0.0144), (4.8, 0.01)], surprises=(0.5, -1.0, 2.0)
        )[1]
        assert found.expected == pytest.approx(-0.15)
        assert found.measured == pytest.approx(-0.1)
        assert found.spread == pytest.approx(math.sqrt(0.0144 + 0.0098**2))
        assert (found.surprise, found.left_out, found.evidence) == (-1.0, False, self.W[1])

    def test_the_first_against_the_one_after_it(self) -> None:
        assert self.against() == [12, 11, 12]

    def test_not_against_one_that_does_not_count(self) -> None:
        assert self.against(kept=(True, False, True)) == [13, 11, 11]
        assert self.against(kept=(False, True, True)) == [12, 13, 12]

    def test_not_over_a_change(self) -> None:
        assert self.against(changes_h=(1.5,)) == [None, 13, 12]

    def test_alone_it_can_say_nothing(self) -> None:
        (found,) = heard(weighed(1.0), judged=[(9.0, 1e4)])
        assert [math.isnan(value) for value in (found.expected, found.spread, found.measured)] == [True] * 3
        assert (found.surprise, found.left_out, found.against) == (0.0, False, None)

    def test_between_others_only_weights_are_weights(self) -> None:
        found = heard(self.W[0], felt(1.5), self.W[1], judged=[(5.0, 0.01), (0.4, 0.01), (4.9, 0.01)])
        assert [one.against for one in found] == [12, None, 11]


class TestFaceRead:
    def test_is_told_in_kelvin(self) -> None:
        (found,) = heard(read(1.0, 291.0), judged=[(290.0, 0.75)], surprises=[1.0], kept=[False])
        assert (found.expected, found.measured) == (290.0, 291.0)
        assert found.spread == pytest.approx(1.0)
        assert (found.surprise, found.left_out) == (1.0, True)


class TestYesAndNo:
    @pytest.mark.parametrize(
        ("one", "share"),
        [
            (felt(1.0, dry=True), norm.cdf(-0.10 / 0.13)),
            (felt(1.0, dry=False), norm.cdf(0.10 / 0.13)),
            (redipped(5.0, shed=True), norm.cdf((0.10 - SHED_LATER) / np.hypot(SHED, OFF))),
            (redipped(5.0, shed=False), norm.cdf((SHED_LATER - 0.10) / np.hypot(SHED, OFF))),
        ],
    )
    def test_are_told_as_the_chance_of_what_was_said(self, one: Evidence, share: float) -> None:
        (found,) = heard(one, judged=[(0.45, OFF**2)])
        assert found.expected == pytest.approx(share)
        assert found.spread == pytest.approx(math.sqrt(share * (1.0 - share)))
        assert math.isnan(found.measured)


def test_comes_in_the_order_of_the_evidence() -> None:
    every = (read(1.0), weighed(2.0), felt(3.0))
    found = heard(*every, judged=[(290.0, 1.0)] * 3)
    assert tuple(one.evidence for one in found) == every
    assert isinstance(found[1].evidence, Weighed)
