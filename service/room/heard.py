"""What one sensor told of one quantity, five minutes by five minutes, and how long each word of it counts.

A value stands until the next, for half an hour at most, and no longer than the sensor hangs there. Of several
sensors only those count that keep to their own rhythm: one that has fallen silent by it speaks for nobody beside
another that has not. The rhythm is learned as the watch over the sensors learns it, but from what is recorded, to
the five minutes, so that the past can be worked out again and comes out the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from service.reading import GAPS_KEPT, GAPS_NEEDED, LATE_INTERVALS, UNKNOWN_INTERVAL_S, Reading
from service.records.air_facts import FiveMinutes

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Numbers = NDArray[np.int_]
Stay = tuple[datetime, datetime]
ALWAYS = (datetime.min.replace(tzinfo=UTC), datetime.max.replace(tzinfo=UTC))

BIN_S = 300
STALE_AFTER_S = 1800
"""A value counts no longer than this, however seldom its sensor sends."""


@dataclass(frozen=True)
class Told:
    """On a grid of five minutes. values: NaN where the sensor counts as stale. regular: where it keeps its rhythm."""

    values: Array
    regular: Mask

    @property
    def regularly(self) -> Array:
        return np.where(self.regular, self.values, np.nan)


@dataclass(frozen=True)
class _Gathered:
    """The five minutes in which something was heard, in order: the mean, and for how many more it is in rhythm."""

    heard: Numbers
    mean: Array
    counts_for: Array


class Heard:
    """Gathers readings as they come; order does not matter. stays: from when to when it hung there; none: always."""

    def __init__(self, stays: Sequence[Stay] = ()) -> None:
        self._total: dict[int, float] = {}
        self._count: dict[int, float] = {}
        self._gathered: _Gathered | None = None
        in_order = sorted(stays) or [ALWAYS]
        self._came = np.array([number_of(came) for came, _ in in_order], int)
        self._went = np.array([number_of(went) for _, went in in_order], int)

    def __len__(self) -> int:
        """In how many five minutes it was heard."""
        return len(self._count)

    def add(self, reading: Reading) -> None:
        self._add(number_of(reading.at), 1, reading.value)

    def add_gathered(self, gathered: FiveMinutes) -> None:
        """Many readings at once, gathered by five minutes already."""
        columns = (gathered.number, gathered.count, gathered.total)
        for number, count, total in zip(*(column.tolist() for column in columns), strict=True):
            self._add(number, count, total)

    def _add(self, number: int, count: float, total: float) -> None:
        self._total[number] = self._total.get(number, 0.0) + total
        self._count[number] = self._count.get(number, 0) + count
        self._gathered = None

    def forget_before(self, first: int) -> None:
        for number in [n for n in self._count if n < first]:
            del self._total[number], self._count[number]
        self._gathered = None

    def told(self, numbers: Numbers) -> Told | None:
        """On these five minutes, counted from 1970; None if nothing was heard."""
        if not self._count:
            return None
        self._gathered = gathered = self._gathered or self._gather()
        heard = gathered.heard
        last = np.searchsorted(heard, numbers, side="right") - 1
        newest = np.maximum(last, 0)
        age = numbers - heard[newest]
        speaks = (last >= 0) & (age < STALE_AFTER_S // BIN_S) & self._in_one_stay(heard[newest], numbers)
        return Told(
            np.where(speaks, gathered.mean[newest], np.nan), speaks & (age <= gathered.counts_for[newest])
        )

    def _gather(self) -> _Gathered:
        heard = np.fromiter(self._count, int, len(self._count))
        count = np.fromiter(self._count.values(), float, heard.size)
        total = np.fromiter(self._total.values(), float, heard.size)
        in_order = np.argsort(heard, kind="stable")
        heard, count, mean = heard[in_order], count[in_order], (total / count)[in_order]
        return _Gathered(heard, mean, _counts_for(heard, count))

    def _in_one_stay(self, heard: Numbers, numbers: Numbers) -> Mask:
        """Taken down, it is out at once: from those five minutes on."""
        stay = np.searchsorted(self._came, numbers, side="right") - 1
        same: Mask = np.searchsorted(self._came, heard, side="right") - 1 == stay
        same &= (stay >= 0) & (numbers < self._went[np.maximum(stay, 0)])
        return same


def number_of(at: datetime) -> int:
    """Which five minutes an instant lies in."""
    return int(at.timestamp() // BIN_S)


def _counts_for(heard: Numbers, count: Array) -> Array:
    """For how many five minutes after each its value is in rhythm: by the second longest of the last ten gaps."""
    gaps_s = np.diff(heard) * BIN_S / count[:-1]
    padded = np.concatenate([np.full(GAPS_KEPT, -np.inf), gaps_s])
    last_ten = np.lib.stride_tricks.sliding_window_view(padded, GAPS_KEPT)
    learned_s = np.partition(last_ten, -2, axis=1)[:, -2]
    interval_s = np.where(np.arange(heard.size) >= GAPS_NEEDED, learned_s, UNKNOWN_INTERVAL_S)
    counts: Array = np.maximum(np.floor(LATE_INTERVALS * interval_s / BIN_S), 1.0)
    return counts
