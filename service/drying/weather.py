"""The air a shell hangs in, over time."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Air(NamedTuple):
    """Air at one moment, or its mean over a step; one value a zone."""

    temperature_k: Array
    humidity: Array
    speed_m_s: Array
    pressure_pa: Array


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
    def _integral(self) -> Array:
        """Integral of (value - first value) from the first point, at each point."""
        rise = self._values - self._values[:, :1]
        pieces = 0.5 * (rise[:, 1:] + rise[:, :-1]) * np.diff(self.time_s)
        return np.concatenate([np.zeros((4, 1)), np.cumsum(pieces, axis=1)], axis=1)

    @cached_property
    def _range(self) -> tuple[Array, Array]:
        return self._values.min(axis=1, keepdims=True), self._values.max(axis=1, keepdims=True)

    def at(self, time_s: Array) -> Air:
        """The air at `time_s`."""
        return Air(*(np.interp(time_s, self.time_s, row) for row in self._values))

    def mean(self, start_s: Array, end_s: Array) -> Air:
        """The mean air over each step from `start_s` to `end_s` (> start_s): exact, so that noise cannot alias."""
        area = self._area(end_s) - self._area(start_s)
        lowest, highest = self._range  # rounding must not make the speed of still air negative
        return Air(*np.clip(self._values[:, :1] + area / (end_s - start_s), lowest, highest))

    def _area(self, time_s: Array) -> Array:
        first, last = self.time_s[0], self.time_s[-1]
        held = np.clip(time_s, first, last)
        i = np.clip(np.searchsorted(self.time_s, held, side="right") - 1, 0, max(self.time_s.size - 2, 0))
        into = held - self.time_s[i]
        rise = self._values - self._values[:, :1]
        inside = into * 0.5 * (rise[:, i] + self._at_within(held) - self._values[:, :1])
        area: Array = self._integral[:, i] + inside + rise[:, -1:] * np.maximum(time_s - last, 0.0)
        return area

    def _at_within(self, held_s: Array) -> Array:
        return np.stack(self.at(held_s))
