"""A forecast of a room's air, with what its moulds will give off otherwise than the forecast takes for granted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from service.drying.air import humidity_at_ratio, humidity_ratio
from service.drying.isotherm import Array
from service.drying.room_balance import phi_1
from service.drying.weather import AirSeries


def answered(to_come: AirSeries, besides_kg_s: Array, air_changes_1_s: float, air_kg: float) -> AirSeries:
    """The same air, but for vapour that comes besides: d(dw)/dt = besides / m - n dw, exact over each step.

    besides_kg_s: (n - 1,) between the points of the forecast, more than it takes for granted; negative where less.
    Linear in what is given, so nothing of the room's other loads need be known (ISO 13788's balance; see
    `room_balance`). Held to full air; heat is left out.
    """
    pressure, kelvin = to_come.pressure_pa, to_come.temperature_k
    away = np.zeros(kelvin.size)
    for i, step_s in enumerate(np.diff(to_come.time_s)):
        x = air_changes_1_s * step_s
        away[i + 1] = away[i] * np.exp(-x) + besides_kg_s[i] / air_kg * step_s * float(phi_1(x))
    ratio = np.maximum(humidity_ratio(kelvin, to_come.humidity, pressure) + away, 0.0)
    return replace(to_come, humidity=np.clip(humidity_at_ratio(kelvin, ratio, pressure), 0.0, 1.0))
