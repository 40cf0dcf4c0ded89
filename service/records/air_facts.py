"""What is known of one quantity of one sensor over a span, as columns: there may be hundreds of thousands of rows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Whole = NDArray[np.int64]
Numbers = NDArray[np.float64]

FIVE_MINUTES_AN_HOUR = 12


@dataclass(frozen=True)
class FiveMinutes:
    """Readings gathered by five minutes, in order. number: which, counted from 1970."""

    number: Whole
    count: Numbers
    total: Numbers


@dataclass(frozen=True)
class Hours:
    """What is left of readings that were thinned out, in order. hour: which, counted from 1970 (UTC).

    heard: one bit for each five minutes in which there was a reading, the first lowest.
    """

    hour: Whole
    mean: Numbers
    least: Numbers
    most: Numbers
    count: Whole
    heard: Whole

    def five_minutes(self) -> FiveMinutes:
        """The hour's mean in each five minutes that had a reading, its readings spread evenly over them."""
        places = np.arange(FIVE_MINUTES_AN_HOUR)
        heard = (self.heard[:, None] >> places) & 1 == 1
        row, place = np.nonzero(heard)
        count = self.count[row] / heard.sum(axis=1)[row]
        return FiveMinutes(self.hour[row] * FIVE_MINUTES_AN_HOUR + place, count, count * self.mean[row])
