"""How a room's air wanders about its usual: as a sum of parts, each with its own memory, learned from its readings.

Each part is a random process that keeps its variance; what tells them apart is how fast they forget. How much of each
a room has is read off its variogram: half the mean squared change over so many hours (G. Matheron, Economic Geology 58
(1963) 1246-1266), fitted by weighted least squares (N. Cressie, Mathematical Geology 17 (1985) 563-586) and drawn
towards what open weather records have, the more the fewer days there are. Both quantities share the parts, with a
correlation of its own in each: a linear model of coregionalization (M. Goulard & M. Voltz, Mathematical Geology 24
(1992) 269-286).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

WEEKS_H, DAYS_H, HOURS_H = 200.0, 50.0, 10.0
SMOOTH_H = 20.0
DAILY_H, DAILY_FORGOTTEN_H = 24.0, 600.0

USUAL_TEMPERATURE_K2 = np.array([18.0, 2.0, 0.8, 3.0, 4.5, 0.2, 0.02])
USUAL_HUMIDITY2 = np.array([33.0, 44.0, 64.0, 133.0, 66.0, 2.6, 1.1]) * 1e-4
TOGETHER = np.array([0.2, 0.2, -0.9, 0.3, -0.98, -0.9, 0.0])
"""Of open weather, by its odd months (tests/benchmarks/bench_forecast.py): variances of each part, and correlations."""

SHARE_UNKNOWN = 0.25
"""Of a room nobody measured yet: of the variance outdoors (our choice; a roof halves the swings)."""
SCALE_PAIRS = 24.0
"""So many pairs of hours say as much about how lively a room is as that guess."""
DRAWN = 0.05
"""How hard each part is drawn to its usual share, against a misfit of the variogram by its own size."""
LAGS_H = np.array([1, 2, 3, 4, 6, 9, 12, 15, 18, 24, 30, 36, 48, 60, 72, 96, 120, 168])
LEAST_RATIO = 0.01
"""Some still hours do not say that a room is dead: a tenth of the usual swings is left to be ruled out by days."""
LIVELY_LAGS = 7
"""The first of them, up to half a day, say how lively the room is as a whole."""
WHOLE_PAIRS = 672.0
"""Pairs of hours, four weeks' worth, from which on a lag is trusted wholly."""
LEAST_SHARE = 0.02
STILL_K2, STILL_HUMIDITY2 = 1e-4, 1e-8
"""No room is stiller than this: an instrument's own steps."""
SWEEPS = 20


@dataclass(frozen=True)
class Wander:
    """Variances of the parts, (parts,) each, in K2 and as shares squared."""

    temperature_k2: Array
    humidity2: Array

    @property
    def covariance(self) -> Array:
        """(parts, 2, 2): of temperature and humidity within each part."""
        both = TOGETHER * np.sqrt(self.temperature_k2 * self.humidity2)
        rows = [[self.temperature_k2, both], [both, self.humidity2]]
        return np.moveaxis(np.array(rows), -1, 0)


def memory(lag_h: Array) -> Array:
    """What is left of each part after so many hours, (parts, ...): correlations.

    Three that forget at once (Ornstein-Uhlenbeck), one that is smooth (Matern 3/2: it has a trend), the daily swing
    and its half, whose shape drifts over weeks, and the flicker of a single hour.
    """
    d = np.abs(lag_h)
    bent = np.sqrt(3.0) * d / SMOOTH_H
    drift = np.exp(-d / DAILY_FORGOTTEN_H)
    turn = 2.0 * np.pi * d / DAILY_H
    return np.stack(
        [
            *(np.exp(-d / tau) for tau in (WEEKS_H, DAYS_H, HOURS_H)),
            (1.0 + bent) * np.exp(-bent),
            drift * np.cos(turn),
            drift * np.cos(2.0 * turn),
            np.where(d < 1e-9, 1.0, 0.0),
        ]
    )


RISE = 1.0 - memory(LAGS_H.astype(np.float64))
"""(parts, lags): the variogram of each part at unit variance."""


def learn(temperature_k: Array, humidity: Array) -> Wander:
    """From hourly means, by time, nan where nothing was measured; (hours,) each."""
    return Wander(
        _variances(temperature_k, USUAL_TEMPERATURE_K2, STILL_K2),
        _variances(humidity, USUAL_HUMIDITY2, STILL_HUMIDITY2),
    )


def _variances(hourly: Array, usual: Array, still: float) -> Array:
    seen, pairs = variogram(hourly)
    usual = usual * _liveliness(seen, pairs, usual) + still
    expected = RISE.T @ usual
    weight = np.minimum(pairs / WHOLE_PAIRS, 1.0) / expected**2 * 10.0 / LAGS_H.size
    return usual * _shares(RISE.T * usual, seen, weight)


def variogram(hourly: Array) -> tuple[Array, Array]:
    """Half the mean squared change over each of `LAGS_H` (0 where none is known), and of how many pairs of hours."""
    half, pairs = np.zeros(LAGS_H.size), np.zeros(LAGS_H.size)
    for i, lag in enumerate(LAGS_H.tolist()):
        changes = hourly[lag:] - hourly[:-lag]
        changes = changes[np.isfinite(changes)]
        pairs[i] = changes.size
        half[i] = 0.5 * np.mean(changes**2) if changes.size else 0.0
    return half, pairs


def _liveliness(seen: Array, pairs: Array, usual: Array) -> float:
    """By how much this room's changes within half a day are larger than the usual ones: of variances."""
    expected = (RISE.T @ usual)[:LIVELY_LAGS]
    ratio = np.log(np.maximum(seen[:LIVELY_LAGS] / expected, LEAST_RATIO))
    counts = pairs[:LIVELY_LAGS]
    total = counts @ ratio + SCALE_PAIRS * np.log(SHARE_UNKNOWN)
    return float(np.exp(total / (counts.sum() + SCALE_PAIRS)))


def _shares(rise: Array, seen: Array, weight: Array) -> Array:
    """Shares of the usual, (parts,), least squares drawn to 1 and not below `LEAST_SHARE`: coordinate by coordinate."""
    squares = (rise * weight[:, None]).T @ rise + DRAWN * np.eye(rise.shape[1])
    right = rise.T @ (weight * seen) + DRAWN
    shares = np.ones(rise.shape[1])
    for _ in range(SWEEPS):
        for i in range(shares.size):
            step = (right[i] - squares[i] @ shares) / squares[i, i]
            shares[i] = max(LEAST_SHARE, shares[i] + step)
    return shares
