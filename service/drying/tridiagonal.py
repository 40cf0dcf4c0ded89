"""Tridiagonal systems side by side, (rows, systems): factored once, solved often. No pivoting."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def eliminate(lower: Array, diagonal: Array, upper: Array) -> tuple[Array, Array]:
    """LU of the tridiagonal systems in their place: the multipliers, and one over the pivots."""
    spare = np.empty_like(diagonal[0])
    pivot = np.reciprocal(diagonal[0], out=diagonal[0])
    for left, middle, above in zip(lower[1:], diagonal[1:], upper[:-1], strict=True):
        np.multiply(left, pivot, out=left)
        np.multiply(left, above, out=spare)
        np.subtract(middle, spare, out=middle)
        pivot = np.reciprocal(middle, out=middle)
    return lower, diagonal


def solve(multipliers: Array, inverse: Array, upper: Array, right: Array) -> Array:
    """The systems' answers in the place of `right`, from what `eliminate` made of them and their upper diagonal."""
    rows, spare = list(right), np.empty_like(right[0])
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
    return right
