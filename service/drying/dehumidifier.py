"""What a compressor dehumidifier takes out of the air, as a curve of temperature and humidity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.drying.air import FREEZING_K, Values
from service.drying.isotherm import Array

SHAPE = (-2.724878664080, 0.100711983591, -0.000990538285, 0.050053043874, -0.000203629282, -0.000341750531)
"""Of the water removed, against that at 26.7 degC and 60 %: 1, T, T2, RH, RH2, T RH in degC and per cent."""
SHAPE_HOLDS_C, SHAPE_HOLDS_PERCENT = (4.0, 38.0), (25.0, 95.0)
A_STEP_K, A_STEP_HUMIDITY = 10.0, 0.2
"""So far away a told point counts as much less in temperature as in humidity (our choice)."""
NEAR = 1e-9
LEAST_OF_SHAPE = 0.1
USUAL_J_KG = 0.55 * 3.6e6
"""Electricity a kilogram of water, where nobody told the power: 0.55 kWh (assumed)."""
USUAL_FROST_K = FREEZING_K + 5.0
"""Below it a coil ices up and the machine stands (assumed; the manual says what this one does)."""


@dataclass(frozen=True, slots=True)
class Rated:
    """What plate or manual tell: so much water in this air."""

    temperature_k: float
    humidity: float
    water_kg_s: float


@dataclass(frozen=True, slots=True)
class Dehumidifier:
    """A machine by one or more points that `can_be_rated`. power_w: what it draws; None: not told, see `USUAL_J_KG`."""

    rated: tuple[Rated, ...]
    power_w: float | None = None
    frost_k: float = USUAL_FROST_K

    def takes_kg_s(self, temperature_k: Values, humidity: Values) -> Array:
        """Water a second while it runs, never negative; 0 below the frost limit.

        The shape between the points is that of room machines in the laboratory; each told point is met exactly.
        """
        t, h = np.asarray(temperature_k, np.float64), np.asarray(humidity, np.float64)
        water = _shape(t, h) * _scale(self.rated, t, h)
        return np.where(t < self.frost_k, 0.0, water)

    def draws_w(self, water_kg_s: Array, most_kg_s: Array) -> Array:
        """Electricity while it takes out so much of the most it could: it runs for that share of the time."""
        if self.power_w is None:
            return water_kg_s * USUAL_J_KG
        return self.power_w * water_kg_s / np.where(most_kg_s > 0.0, most_kg_s, 1.0)


def can_be_rated(temperature_k: float, humidity: float) -> bool:
    """Whether such air tells a machine's size: in colder or drier air hardly any takes out anything."""
    return float(_shape(np.array(temperature_k), np.array(humidity))) >= LEAST_OF_SHAPE


def _shape(temperature_k: Array, humidity: Array) -> Array:
    """Water removed against that at 26.7 degC and 60 %.

    Biquadratic curve of J. Winkler, D. Christensen and J. Tomerlin, "Laboratory test report for six ENERGY STAR
    dehumidifiers", NREL/TP-5500-52791, 2011, as building simulation uses it (coefficients from memory). Held at its
    ends beyond 4..38 degC and 25..95 %.
    """
    t = np.clip(temperature_k - FREEZING_K, *SHAPE_HOLDS_C)
    h = np.clip(100.0 * humidity, *SHAPE_HOLDS_PERCENT)
    a, b, c, d, e, f = SHAPE
    return np.maximum(a + b * t + c * t * t + d * h + e * h * h + f * t * h, 0.0)


def _scale(rated: Sequence[Rated], temperature_k: Array, humidity: Array) -> Array:
    """How much larger than the shape the machine is here: the told points' own scales, the nearer the more.

    D. Shepard, "A two-dimensional interpolation function for irregularly-spaced data", Proc. ACM 1968, 517-524.
    """
    weights, total = np.zeros_like(temperature_k + humidity), np.zeros_like(temperature_k + humidity)
    for point in rated:
        own = point.water_kg_s / float(_shape(np.array(point.temperature_k), np.array(point.humidity)))
        away_t = (temperature_k - point.temperature_k) / A_STEP_K
        away_h = (humidity - point.humidity) / A_STEP_HUMIDITY
        weight = 1.0 / (away_t * away_t + away_h * away_h + NEAR)
        weights, total = weights + weight, total + weight * own
    return total / weights
