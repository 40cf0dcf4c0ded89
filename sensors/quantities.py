"""What coatbell can measure: its unit inside, its range, and how fast it can change.

The numbers are judgements for a heated or unheated shed where shells hang (common practice, no source), except:
sensors read up to 105 % where the air is saturated, because their accuracy is 2 to 3 % RH and worse near saturation
(from memory of data sheets of capacitive sensors).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from service.reading import Quantity
from service.units import Dimension, convert, show
from service.voice import later, say


@dataclass(frozen=True, slots=True)
class Kind:
    """One quantity. A change is believed up to `step` at once and `rate_per_s` for every second between readings."""

    words: str
    dimension: Dimension
    lowest: float
    highest: float
    step: float = math.inf
    rate_per_s: float = 0.0

    def allowed(self, seconds: float) -> float:
        """The largest change believed within `seconds`, in the SI unit."""
        return self.step + self.rate_per_s * max(seconds, 0.0)

    def range_words(self) -> str:
        return say(
            "{low} to {high}", low=show(self.lowest, self.dimension), high=show(self.highest, self.dimension)
        )


def _kind(words: str, dimension: Dimension, unit: str, lowest: float, highest: float, **speed: float) -> Kind:
    # Converted as readings are, so that a reading exactly on a limit compares equal to it.
    return Kind(
        words, dimension, convert(lowest, unit, dimension), convert(highest, unit, dimension), **speed
    )


KINDS = {
    # A door opened in winter moves the air of a small room a few kelvin in seconds, ten in a minute.
    Quantity.AIR_TEMPERATURE: _kind(
        later("air temperature"), Dimension.TEMPERATURE, "degC", -30.0, 60.0, step=3.0, rate_per_s=0.2
    ),
    # Below 2 % is a broken sensor: even air from outside at -25 degC (63 Pa of vapour over ice), warmed to 20 degC
    # (2339 Pa at saturation), keeps 2.7 %.
    Quantity.RELATIVE_HUMIDITY: _kind(
        later("humidity"), Dimension.FRACTION, "%", 2.0, 105.0, step=0.10, rate_per_s=0.01
    ),
    # No limit on its change: a fan is switched on at once.
    Quantity.AIR_SPEED: _kind(later("air speed"), Dimension.SPEED, "m/s", 0.0, 20.0),
    # 600 hPa is 4200 m above the sea (ISO 2533); the highest ever measured is near 1085 hPa (from memory).
    Quantity.PRESSURE: _kind(
        later("air pressure"), Dimension.PRESSURE, "hPa", 600.0, 1100.0, step=300.0, rate_per_s=5.0
    ),
    # A dip or a torch moves a surface many kelvin in seconds.
    Quantity.SURFACE_TEMPERATURE: _kind(
        later("surface temperature"), Dimension.TEMPERATURE, "degC", -30.0, 1300.0, step=20.0, rate_per_s=5.0
    ),
    # A little below nothing: a hanging scale that was not zeroed. No limit on its change: a mould is hung on at once.
    Quantity.WEIGHT: _kind(later("weight"), Dimension.MASS, "kg", -1.0, 1000.0),
}
