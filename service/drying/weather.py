"""The air a shell hangs in, over time."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Numbers = NDArray[np.intp]

ONLY = np.zeros(1, np.intp)


class Air(NamedTuple):
    """Air at one moment, or its mean over a step; one value a zone."""

    temperature_k: Array
    humidity: Array
    speed_m_s: Array
    pressure_pa: Array


class Lines:
    """Air as straight lines between points, held flat before the first and after the last; several series at once.

    time_s: (n,) increasing; values: (4, series, n), in the order of `Air`.
    """

    def __init__(self, time_s: Array, values: Array) -> None:
        self.time_s = time_s
        self.first = values[..., :1]
        rise = values - self.first  # a step late in a long series would lose its digits otherwise
        step = np.diff(time_s)
        area = np.concatenate(
            [np.zeros_like(self.first), np.cumsum(0.5 * (rise[..., 1:] + rise[..., :-1]) * step, axis=-1)], -1
        )
        slope = np.concatenate([np.diff(rise) / step, np.zeros_like(self.first)], -1)
        self.area, self.rise, self.half_slope = (t.reshape(4, -1) for t in (area, rise, 0.5 * slope))
        self.first = self.first[..., 0]
        self.lowest, self.highest = (f(values, axis=(1, 2))[:, None] for f in (np.min, np.max))

    def mean(self, start_s: Array, end_s: Array, series: Numbers = ONLY) -> Air:
        """The exact mean over each step, each of its own series."""
        area = self._area(end_s, series) - self._area(start_s, series)
        mean = self.first.take(series, axis=1) + area / (end_s - start_s)
        # Rounding must not make the speed of still air negative.
        return Air(*np.minimum(np.maximum(mean, self.lowest), self.highest))

    def _area(self, time_s: Array, series: Numbers) -> Array:
        """Integral of (value - first value) from the first point on."""
        point = np.maximum(np.searchsorted(self.time_s, time_s, side="right") - 1, 0)
        into = np.maximum(time_s - self.time_s[point], 0.0)
        i = series * self.time_s.size + point
        area, rise, half_slope = (table.take(i, axis=1) for table in (self.area, self.rise, self.half_slope))
        return area + into * (rise + into * half_slope)


@dataclass(frozen=True)
class AirSeries:
    """Air along time: straight lines between the given points, held flat before the first and after the last.

    time_s: (n,) increasing; temperature_k, humidity (0..1), speed_m_s, pressure_pa: (n,).
    Raises ValueError if the times do not increase or a value is not finite.
    """

    time_s: Array
    temperature_k: Array
    humidity: Array
    speed_m_s: Array
    pressure_pa: Array

    def __post_init__(self) -> None:
        if self.time_s.size == 0 or not bool(np.all(np.diff(self.time_s) > 0)):
            raise ValueError("air needs at least one point, and its times must increase")
        if not bool(np.all(np.isfinite(self._values))):
            raise ValueError("air must be finite everywhere")

    @classmethod
    def constant(cls, temperature_k: float, humidity: float, speed_m_s: float, pressure_pa: float) -> Self:
        """The same air for ever."""
        return cls(*(np.array([v], float) for v in (0.0, temperature_k, humidity, speed_m_s, pressure_pa)))

    @cached_property
    def _values(self) -> Array:
        return np.stack([self.temperature_k, self.humidity, self.speed_m_s, self.pressure_pa])

    @cached_property
    def _lines(self) -> Lines:
        return Lines(self.time_s, self._values[:, None])

    def at(self, time_s: Array) -> Air:
        """The air at `time_s`."""
        return Air(*(np.interp(time_s, self.time_s, row) for row in self._values))

    def mean(self, start_s: Array, end_s: Array) -> Air:
        """The mean air over each step from `start_s` to `end_s` (> start_s): exact, so that noise cannot alias."""
        return self._lines.mean(start_s, end_s)
