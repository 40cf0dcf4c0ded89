"""Tridiagonal systems side by side, (rows, systems): factored once, solved often. No pivoting."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def eliminate(lower: Array, diagonal: Array, upper: Array) -> tuple[Array, Array]:
    """LU of the tridiagonal systems: the multipliers, and one over the pivots."""
    multipliers, inverse = np.empty_like(diagonal), np.empty_like(diagonal)
    inverse[0] = 1.0 / diagonal[0]
    for i in range(1, len(diagonal)):
        multipliers[i] = lower[i] * inverse[i - 1]
        inverse[i] = 1.0 / (diagonal[i] - multipliers[i] * upper[i - 1])
    return multipliers, inverse


def solve(multipliers: Array, inverse: Array, upper: Array, right: Array) -> Array:
    """The systems' answers, from what `eliminate` made of them and their upper diagonal."""
    x = right.copy()
    for i in range(1, len(x)):
        x[i] -= multipliers[i] * x[i - 1]
    x[-1] *= inverse[-1]
    for i in range(len(x) - 2, -1, -1):
        x[i] = (x[i] - upper[i] * x[i + 1]) * inverse[i]
    return x
