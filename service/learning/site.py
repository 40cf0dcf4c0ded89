"""What one mould taught about the shop, and what all of them taught together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.learning.effect import Effect
from service.learning.prior import prior

Array = NDArray[np.float64]

HALF_LIFE_S = 180 * 86400.0
"""Draughts, binders and stuccos change over the year (our choice)."""


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
        mean, covariance = prior(asked)
        known = {effect: n for n, effect in enumerate(self.effects)}
        here = [i for i, effect in enumerate(asked) if effect in known]
        there = [known[asked[i]] for i in here]
        mean[here] = self.mean[there]
        covariance[np.ix_(here, here)] = self.covariance[np.ix_(there, there)]
        return mean, covariance


NOTHING_HEARD = Belief((), np.zeros(0), np.zeros((0, 0)))


def pool(sites: Iterable[Site], now_s: float, without: int | None = None) -> Belief:
    """What all moulds taught together by now, old evidence faded. without: but for this mould's own.

    Each site counts with the share `faded` of its weight, as in a power prior: J. G. Ibrahim and M.-H. Chen, Statist.
    Sci. 15(1), 2000, 46-60 (from memory). An effect heard of long ago goes back to its prior.
    """
    counted = [site for site in sites if site.mould != without]
    effects = tuple(sorted({effect for site in counted for effect in site.effects}))
    place = {effect: n for n, effect in enumerate(effects)}
    mean, covariance = prior(effects)
    precision, shift = np.diag(1.0 / np.diag(covariance)), np.zeros(mean.size)
    for site in counted:
        where = [place[effect] for effect in site.effects]
        share = faded(now_s - site.at_s)
        precision[np.ix_(where, where)] += share * site.precision
        shift[where] += share * site.shift
    together = np.linalg.inv(precision)
    together = 0.5 * (together + together.T)
    return Belief(effects, together @ shift, together)


def faded(age_s: float) -> float:
    """What is left of the weight of evidence so old: half after `HALF_LIFE_S`; all of it if it is of the future."""
    return float(0.5 ** (max(age_s, 0.0) / HALF_LIFE_S))
