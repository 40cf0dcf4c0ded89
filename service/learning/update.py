"""From a straight line and what was heard to what is thought now; and what each piece was held against.

Linear and normal, so exact but for yes and no, which enter as the normal observations that say as much (expectation
propagation: T. P. Minka, Proc. UAI 2001, 362-369). Measurements are Student's t about their expectation, so that one
which lies off counts for less: K. L. Lange, R. J. A. Little and J. M. G. Taylor, J. Am. Stat. Assoc. 84, 1989,
881-896. Held against all others: C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning,
MIT Press 2006, eq. 5.12 (all from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from service.learning.probit import Answer

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

FREEDOM = 4.0
"""Degrees of freedom of a measurement's noise (our choice)."""
FURTHEST = 4.0
"""A measurement so many spreads off what all else makes of it is left out (our choice)."""
UNLIKELIEST = 0.02
"""So is a yes or no that was less likely than this (our choice)."""
SWEEPS = 40
SETTLED = 1e-4
DAMPED = 0.7


@dataclass(frozen=True)
class Pieces:
    """n pieces of evidence before they were heard: normal with `mean` (n,) and `covariance` (n, n), but for noise.

    values, noise: (n,) what was measured and the variance of one measurement. answers: of a yes or no, else None.
    """

    mean: Array
    covariance: Array
    values: Array
    noise: Array
    answers: tuple[Answer | None, ...]


@dataclass(frozen=True)
class Judged:
    """One piece against all others that count: what they expect of it, and their variance without its own noise."""

    mean: float
    variance: float


@dataclass(frozen=True)
class Settled:
    """What counts of it, and as what: observations `values` with variances `noise`; and each piece as it was judged.

    surprises: how many spreads each lies off; of a yes or no 0 where it was the likelier one.
    """

    kept: Mask
    values: Array
    noise: Array
    judged: tuple[Judged, ...]
    surprises: tuple[float, ...]


def settle(pieces: Pieces) -> Settled:
    """All that agrees; the piece that lies off furthest is left out first, and the rest judged again without it."""
    kept = np.ones(pieces.mean.size, bool)
    while True:
        settled = _settled(pieces, kept)
        off = np.abs(settled.surprises) / _furthest(pieces) * kept
        if not off.size or off.max() <= 1.0:
            return settled
        kept = kept & (np.arange(kept.size) != off.argmax())


def _settled(pieces: Pieces, kept: Mask) -> Settled:
    values, noise = _observations(pieces, kept)
    means, variances = _by_others(pieces, kept, values, noise)
    judged = tuple(Judged(float(m), float(v)) for m, v in zip(means, variances, strict=True))
    surprises = tuple(_surprise(pieces, i, one) for i, one in enumerate(judged))
    return Settled(kept, values, noise, judged, surprises)


def _surprise(pieces: Pieces, i: int, judged: Judged) -> float:
    if answer := pieces.answers[i]:
        return max(answer.against(judged.mean, judged.variance), 0.0)
    return (float(pieces.values[i]) - judged.mean) / math.sqrt(judged.variance + float(pieces.noise[i]))


def _furthest(pieces: Pieces) -> Array:
    furthest_answer = NormalDist().inv_cdf(1.0 - UNLIKELIEST)
    return np.array([FURTHEST if answer is None else furthest_answer for answer in pieces.answers])


def _observations(pieces: Pieces, kept: Mask) -> tuple[Array, Array]:
    """As what each piece counts, given all others that do: gone over until nothing moves.

    At first all are taken at their word, or each of many that agree would be held for a lapse.
    """
    values, noise = pieces.values, pieces.noise
    at_their_word = replace(pieces, answers=tuple(one and replace(one, lapses=0.0) for one in pieces.answers))
    for sweep in range(SWEEPS):
        means, variances = _by_others(pieces, kept, values, noise)
        before = noise
        values, noise = _observed(pieces if sweep else at_their_word, values, noise, means, variances)
        if bool(np.all(np.abs(np.log(noise / before))[kept] < SETTLED)):
            break
    return values, noise


def _observed(
    pieces: Pieces, values: Array, noise: Array, means: Array, variances: Array
) -> tuple[Array, Array]:
    off = (values - means) * noise / (variances + noise)
    square = off**2 + variances * noise / (variances + noise)
    noise_t = pieces.noise * (FREEDOM + square / pieces.noise) / (FREEDOM + 1.0)
    said = [
        (value, spread) if answer is None else answer.as_observation(float(mean), float(variance))
        for answer, value, spread, mean, variance in zip(
            pieces.answers, values, noise_t, means, variances, strict=True
        )
    ]
    found, spread = np.array(said).reshape(-1, 2).T
    weight = (1.0 - DAMPED) / noise + DAMPED / spread
    return ((1.0 - DAMPED) * values / noise + DAMPED * found / spread) / weight, 1.0 / weight


def _by_others(pieces: Pieces, kept: Mask, values: Array, noise: Array) -> tuple[Array, Array]:
    """Mean and variance, without noise of its own, that all others which count make of each piece."""
    inverse = np.linalg.inv(pieces.covariance[np.ix_(kept, kept)] + np.diag(noise[kept]))
    weighed = inverse @ (values - pieces.mean)[kept]
    across = pieces.covariance[:, kept]
    means = pieces.mean + across @ weighed
    variances = np.diag(pieces.covariance) - np.einsum("ij,jk,ik->i", across, inverse, across)
    alone = np.diag(inverse)
    means[kept] = values[kept] - weighed / alone
    variances[kept] = 1.0 / alone - noise[kept]
    return means, np.maximum(variances, 0.0)


def update(mean: Array, covariance: Array, slope: Array, off: Array, spread: Array) -> tuple[Array, Array]:
    """Mean (d,) and covariance (d, d) of the unknowns once `off` (n,) was observed about slope @ x.

    off: what was observed less the line's constant; spread (n, n): covariance of all noise. The Kalman update.
    """
    gain = np.linalg.solve(slope @ covariance @ slope.T + spread, slope @ covariance).T
    after = covariance - gain @ slope @ covariance
    return mean + gain @ (off - slope @ mean), 0.5 * (after + after.T)
