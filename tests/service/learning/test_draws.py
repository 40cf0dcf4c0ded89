"""Fixed draws that are as normal as so many can be."""

from __future__ import annotations

import numpy as np
import pytest

from service.learning.draws import drawn, standard_normal


class TestStandardNormal:
    @pytest.mark.parametrize("count", [1, 7, 40, 63])
    def test_is_centred_and_white(self, count: int) -> None:
        draws = standard_normal(64, count)
        assert draws.mean(axis=0) == pytest.approx(np.zeros(count), abs=1e-12)
        assert draws.T @ draws / 64 == pytest.approx(np.eye(count), abs=1e-9)

    @pytest.mark.parametrize("count", [64, 90])
    def test_of_more_than_can_be_white_each_has_spread_one(self, count: int) -> None:
        draws = standard_normal(64, count)
        assert draws.mean(axis=0) == pytest.approx(np.zeros(count), abs=1e-12)
        assert draws.std(axis=0) == pytest.approx(np.ones(count))

    def test_has_the_tails_of_a_normal(self) -> None:
        inside = np.mean(np.abs(standard_normal(64, 30)) < 1.2816)
        assert inside == pytest.approx(0.8, abs=0.03)

    def test_is_the_same_each_time_and_nobody_can_change_it(self) -> None:
        first = standard_normal(64, 5).copy()
        with pytest.raises(ValueError, match="read-only"):
            standard_normal(64, 5)[0, 0] = 0.0
        standard_normal.cache_clear()
        assert (standard_normal(64, 5) == first).all()


class TestDrawn:
    def test_has_mean_and_covariance_asked_for(self) -> None:
        covariance = np.array([[0.3, 0.1, 0.0], [0.1, 0.2, 0.05], [0.0, 0.05, 0.4]])
        x = drawn(np.array([1.0, -2.0, 0.5]), covariance, 64)
        assert x.shape == (3, 64)
        assert x.mean(axis=1) == pytest.approx([1.0, -2.0, 0.5])
        assert np.cov(x, bias=True) == pytest.approx(covariance)

    def test_what_is_certain_does_not_vary(self) -> None:
        x = drawn(np.array([1.0, 2.0]), np.diag([0.0, 1.0]), 16)
        assert x[0] == pytest.approx(np.ones(16))

    def test_hardly_another_covariance_gives_hardly_other_members(self) -> None:
        covariance = np.diag([1.0, 1.0, 1.0])
        other = covariance + 1e-6 * np.ones((3, 3))
        assert drawn(np.zeros(3), other, 32) == pytest.approx(drawn(np.zeros(3), covariance, 32), abs=1e-4)
