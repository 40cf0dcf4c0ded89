"""A yes or no about a number that is known to be normal, as the normal observation that says as much.

Moments of a normal times a cumulative normal: C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine
Learning, MIT Press 2006, eq. 3.58 and 3.82-3.85 (from memory), with a share of answers that are simply wrong.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

NO_WORD = 1e4
"""Variance of an observation that makes nothing more certain."""

LEAST = 1e-300
"""A chance of nothing at all would divide by zero."""


@dataclass(frozen=True, slots=True)
class Answer:
    """Somebody said whether a number is above a limit: they draw the line within `spread` of it, and lapse at times."""

    above: bool
    limit: float
    spread: float
    lapses: float

    def likelihood(self, mean: float, variance: float) -> float:
        """How likely this answer is where the number is normal, lapses and all; never quite 0."""
        return self.lapses + (1.0 - 2.0 * self.lapses) * self.plainly(mean, variance)

    def plainly(self, mean: float, variance: float) -> float:
        """The same from somebody who never lapses."""
        return max(0.5 * math.erfc(-self._steps(mean, variance) / math.sqrt(2.0)), LEAST)

    def against(self, mean: float, variance: float) -> float:
        """How many spreads the number is expected on the other side of the limit than was said."""
        return -self._steps(mean, variance)

    def as_observation(self, mean: float, variance: float) -> tuple[float, float]:
        """The observation (value, its variance) that leaves the same mean and variance as the answer does.

        An answer that would leave the number less certain, as a likely lapse does, moves its mean alone.
        """
        steps, width = self._steps(mean, variance), math.sqrt(self.spread**2 + variance)
        density = math.exp(-0.5 * steps**2) / math.sqrt(2.0 * math.pi)
        share = (1.0 - 2.0 * self.lapses) * density / self.likelihood(mean, variance)
        rise = share / width if self.above else -share / width
        bend = rise * rise + share * steps / width**2
        noise = 1.0 / bend - variance if bend > 1.0 / NO_WORD else NO_WORD
        return mean + rise * (variance + noise), noise

    def _steps(self, mean: float, variance: float) -> float:
        off = (mean - self.limit) / math.sqrt(self.spread**2 + variance)
        return off if self.above else -off
