"""Tridiagonal systems side by side, (rows, systems): factored once, solved often. No pivoting."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def eliminate(lower: Array, diagonal: Array, upper: Array) -> tuple[Array, Array]:
    """LU of the tridiagonal systems: the multipliers, and one over the pivots."""
    multipliers, inverse, spare = np.empty_like(diagonal), np.empty_like(diagonal), np.empty_like(diagonal[0])
    np.reciprocal(diagonal[0], out=inverse[0])
    before, above = inverse[0], upper[0]
    rows = zip(lower[1:], diagonal[1:], upper[1:], multipliers[1:], inverse[1:], strict=True)
    for left, middle, right, multiplier, pivot in rows:
        np.multiply(left, before, out=multiplier)
        np.multiply(multiplier, above, out=spare)
        np.subtract(middle, spare, out=spare)
        np.reciprocal(spare, out=pivot)
        before, above = pivot, right
    return multipliers, inverse


def solve(multipliers: Array, inverse: Array, upper: Array, right: Array) -> Array:
    """The systems' answers, from what `eliminate` made of them and their upper diagonal."""
    x, spare = right.copy(), np.empty_like(right[0])
    rows = list(x)
    for multiplier, before, here in zip(multipliers[1:], rows, rows[1:], strict=False):
        np.multiply(multiplier, before, out=spare)
        np.subtract(here, spare, out=here)
    np.multiply(rows[-1], inverse[-1], out=rows[-1])
    for above, pivot, here, below in zip(
        upper[-2::-1], inverse[-2::-1], rows[-2::-1], rows[:0:-1], strict=True
    ):
        np.multiply(above, below, out=spare)
        np.subtract(here, spare, out=here)
        np.multiply(here, pivot, out=here)
    return x
