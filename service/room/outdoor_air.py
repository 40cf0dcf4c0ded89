"""The air outside as a series, from what is known of it by the hour around an instant."""

from __future__ import annotations

import numpy as np

from service.drying.air import vapour_density_kg_m3
from service.drying.weather import AirSeries
from service.room.outside import Outside

HOUR_S = 3600.0
DRIEST, DAMPEST = 0.02, 1.0
WIND_M_S = 1.0
"""Nobody asks it of outdoors; a series has one."""


def outdoor_air(outside: Outside, now_s: float, pressure_pa: float) -> AirSeries:
    """Measured or given hours in their middles, then what is to come; hours nobody knows are bridged."""
    back, ahead = np.arange(outside.past_k.size), np.arange(outside.ahead_k.size)
    time_s = np.concatenate([now_s - HOUR_S * (back[::-1] + 0.5), now_s + HOUR_S * ahead])
    kelvin = np.concatenate([outside.past_k[::-1], outside.ahead_k])
    vapour = np.concatenate([outside.past_vapour[::-1], outside.ahead_vapour])
    known = np.isfinite(kelvin) & np.isfinite(vapour)
    humidity = vapour[known] / vapour_density_kg_m3(kelvin[known], 1.0)
    many = int(known.sum())
    return AirSeries(
        time_s[known],
        kelvin[known],
        np.clip(humidity, DRIEST, DAMPEST),
        np.full(many, WIND_M_S),
        np.full(many, pressure_pa),
    )
