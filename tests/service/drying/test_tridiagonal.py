"""Tridiagonal systems against a dense solver."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from service.drying.tridiagonal import eliminate, solve

Array = NDArray[np.float64]


def random_systems(seed: int, rows: int, systems: int) -> tuple[Array, Array, Array, Array]:
    """Diagonally dominant, as (I - gamma h A) of a diffusion is."""
    random = np.random.default_rng(seed)
    lower, upper, right = random.uniform(-1.0, 1.0, (3, rows, systems))
    lower[0], upper[-1] = 0.0, 0.0
    diagonal = 0.1 + np.abs(lower) + np.abs(upper) + random.uniform(0.0, 1.0, (rows, systems))
    return lower, diagonal, upper, right


def dense(lower: Array, diagonal: Array, upper: Array, i: int) -> Array:
    return np.diag(diagonal[:, i]) + np.diag(upper[:-1, i], 1) + np.diag(lower[1:, i], -1)


@given(seed=st.integers(0, 2**32 - 1), rows=st.integers(1, 50), systems=st.integers(1, 6))
def test_each_system_is_solved(seed: int, rows: int, systems: int) -> None:
    lower, diagonal, upper, right = random_systems(seed, rows, systems)
    multipliers, inverse = eliminate(lower.copy(), diagonal.copy(), upper)
    x = solve(multipliers, inverse, upper, right.copy())
    for i in range(systems):
        assert x[:, i] == pytest.approx(
            np.linalg.solve(dense(lower, diagonal, upper, i), right[:, i]), rel=1e-9, abs=1e-9
        )


def test_factored_once_solved_often() -> None:
    lower, diagonal, upper, right = random_systems(1, 12, 3)
    multipliers, inverse = eliminate(lower.copy(), diagonal.copy(), upper)
    once = solve(multipliers, inverse, upper, right.copy())
    again = solve(multipliers, inverse, upper, right.copy())
    doubled = solve(multipliers, inverse, upper, 2.0 * right)
    assert np.array_equal(once, again)
    assert doubled == pytest.approx(2.0 * once)


def test_all_is_done_in_place_but_for_the_upper_diagonal() -> None:
    lower, diagonal, upper, right = random_systems(2, 8, 2)
    above = upper.copy()
    multipliers, inverse = eliminate(lower, diagonal, upper)
    x = solve(multipliers, inverse, upper, right)
    assert (multipliers is lower, inverse is diagonal, x is right) == (True, True, True)
    assert np.array_equal(upper, above)


def test_a_single_row() -> None:
    multipliers, inverse = eliminate(np.zeros((1, 1)), np.array([[4.0]]), np.zeros((1, 1)))
    assert solve(multipliers, inverse, np.zeros((1, 1)), np.array([[2.0]])).tolist() == [[0.5]]


def test_the_corners_outside_the_matrix_are_not_read() -> None:
    lower, diagonal, upper, right = random_systems(3, 6, 2)
    multipliers, inverse = eliminate(lower.copy(), diagonal.copy(), upper)
    plain = solve(multipliers, inverse, upper, right.copy())
    lower[0], upper[-1] = 1e9, -1e9
    multipliers, inverse = eliminate(lower.copy(), diagonal.copy(), upper)
    assert np.array_equal(solve(multipliers, inverse, upper, right.copy()), plain)
