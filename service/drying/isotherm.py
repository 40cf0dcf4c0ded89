"""How much water the dry stuff holds at a given humidity: the GAB isotherm, both ways."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Isotherm(Protocol):
    """Water content X (kg water / kg dry) against water activity a (0..1), either way, with the slope."""

    def water_content(self, activity: Array) -> Array: ...

    def water_content_slope(self, activity: Array) -> Array:
        """dX/da."""
        ...

    def activity(self, water_content: Array) -> Array: ...


@dataclass(frozen=True, slots=True)
class Gab:
    """X = M0 C K a / [(1 - K a)(1 - K a + C K a)].

    Guggenheim-Anderson-de Boer form. Defaults are assumed: consistent with a gel share of a few per cent.
    Valid for 0 <= a <= 1 and K < 1.
    """

    monolayer: float = 0.009
    c: float = 10.0
    k: float = 0.95

    def water_content(self, activity: Array) -> Array:
        y = self.k * activity
        return self.monolayer * self.c * y / ((1.0 - y) * (1.0 + (self.c - 1.0) * y))

    def water_content_slope(self, activity: Array) -> Array:
        y = self.k * activity
        bottom = (1.0 - y) * (1.0 + (self.c - 1.0) * y)
        return self.monolayer * self.c * self.k * (1.0 + (self.c - 1.0) * y * y) / (bottom * bottom)

    def activity(self, water_content: Array) -> Array:
        """The root of the isotherm's quadratic in K a, held to 0..1."""
        x = np.maximum(water_content, 0.0)
        a = x * (self.c - 1.0)
        b = self.monolayer * self.c - x * (self.c - 2.0)
        y = 2.0 * x / (b + np.sqrt(b * b + 4.0 * a * x))
        return np.clip(y / self.k, 0.0, 1.0)
