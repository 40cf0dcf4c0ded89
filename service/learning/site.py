"""What one mould taught about the shop, and what all of them taught together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.learning.effect import Effect

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Site:
    """A mould's evidence as a Gaussian factor on the shop's effects, whatever was thought of them before.

    Over `effects` in that order: exp(-x.precision.x / 2 + shift.x), x the logarithms. precision (n, n), shift (n,).
    pieces: how many pieces of evidence of each kind it rests on. at_s: when the newest of them was heard.
    """

    mould: int
    effects: tuple[Effect, ...]
    precision: Array
    shift: Array
    at_s: float
    pieces: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True)
class Belief:
    """What is thought of the shop's effects: normal in their logarithms, `mean` (n,) and `covariance` (n, n).

    An effect that is not among them has its prior: see `about`.
    """

    effects: tuple[Effect, ...]
    mean: Array
    covariance: Array

    def about(self, asked: Sequence[Effect]) -> tuple[Array, Array]:
        """Mean and covariance of these effects in this order; unheard-of ones have their prior, independent of all."""
        raise NotImplementedError


def pool(sites: Iterable[Site], now_s: float, without: int | None = None) -> Belief:
    """What all moulds taught together by now, old evidence faded. without: but for this mould's own."""
    raise NotImplementedError
