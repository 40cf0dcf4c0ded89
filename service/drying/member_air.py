"""Air that is not known, as each member of a zone has it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from service.drying.weather import Air, AirSeries, Lines

Array = NDArray[np.float64]

LEAST_HUMIDITY, MOST_HUMIDITY = 0.02, 1.0


@dataclass(frozen=True)
class MemberAir:
    """Air that is not known: `base`, plus each member's share of some ways in which it may come otherwise.

    time_s: (n,) increasing, of the ways; held flat before and after. temperature_k, humidity: (ways, n), added to the
    base. shares: (members, ways). Humidity is held to 0.02..1 at every point of either series, and runs straight
    between them: means over a step are exact means of these lines.
    """

    base: AirSeries
    time_s: Array
    temperature_k: Array
    humidity: Array
    shares: Array

    def of(self, member: int) -> AirSeries:
        """The air as this member has it."""
        here, temperature_k, humidity = self._points
        return AirSeries(
            self._time_s, temperature_k[member], humidity[member], here.speed_m_s, here.pressure_pa
        )

    def mean(self, start_s: Array, end_s: Array, members: NDArray[np.intp]) -> Air:
        """As `AirSeries.mean`, each step in the air of the member named with it."""
        return self._lines.mean(start_s, end_s, members)

    @cached_property
    def _time_s(self) -> Array:
        return np.union1d(self.base.time_s, self.time_s)

    @cached_property
    def _points(self) -> tuple[Air, Array, Array]:
        """The base, and every member's temperature and humidity (members, n)."""
        here = self.base.at(self._time_s)
        warmer, damper = (
            self.shares @ np.stack([np.interp(self._time_s, self.time_s, way) for way in ways])
            for ways in (self.temperature_k, self.humidity)
        )
        humidity = np.clip(here.humidity + damper, LEAST_HUMIDITY, MOST_HUMIDITY)
        return here, here.temperature_k + warmer, humidity

    @cached_property
    def _lines(self) -> Lines:
        here, temperature_k, humidity = self._points
        shared = [np.broadcast_to(values, humidity.shape) for values in (here.speed_m_s, here.pressure_pa)]
        return Lines(self._time_s, np.stack([temperature_k, humidity, *shared]))
