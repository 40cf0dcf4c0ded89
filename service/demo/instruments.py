"""Sensors that do not exist: what each would send of the air around it, with its own error, noise and moods.

The same instrument always says the same at the same moment, so a stop and a restart change nothing.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime

from service.demo.shed import IndoorAir
from service.reading import Quantity

Values = Mapping[Quantity, float]
BROKEN_K = 273.15 - 1000.0
"""-1000 degC: what many sensors send when their probe has come off."""


@dataclass(frozen=True, slots=True)
class Instrument:
    """One sensor of the demo. Offsets and noises (standard deviations) in K and as a share 0..1 of saturation.

    topics: where it sends, as patterns of sensors.toml. quantities: what it measures.
    silent_every_s, silent_for_s: from time to time it says nothing (0: never).
    broken_every: one value in so many is nonsense, temperature -1000 degC or no number at all (0: never).
    """

    sensor: str
    room: str
    topics: tuple[str, ...]
    quantities: tuple[Quantity, ...]
    air: Callable[[datetime], IndoorAir]
    every_s: float = 300.0
    offset_k: float = 0.0
    offset_humidity: float = 0.0
    noise_k: float = 0.03
    noise_humidity: float = 0.002
    silent_every_s: float = 0.0
    silent_for_s: float = 0.0
    broken_every: int = 0

    def measure(self, at: datetime) -> Values | None:
        """What it would send at this moment, in SI; None while it is silent."""
        if self.silent(at):
            return None
        chance = random.Random(f"{self.sensor} {math.floor(at.timestamp() / self.every_s)}")
        values = self._measured(self.air(at), chance)
        return self._broken(values, chance) if self.broken(at) else values

    def silent(self, at: datetime) -> bool:
        """Whether it says nothing: at the end of every `silent_every_s`."""
        if not self.silent_every_s:
            return False
        return at.timestamp() % self.silent_every_s >= self.silent_every_s - self.silent_for_s

    def broken(self, at: datetime) -> bool:
        """Whether what it sends at this moment is nonsense."""
        step = math.floor(at.timestamp() / self.every_s)
        return bool(self.broken_every) and step % self.broken_every == self.broken_every - 1

    def _measured(self, air: IndoorAir, chance: random.Random) -> dict[Quantity, float]:
        all_of_it = {
            Quantity.AIR_TEMPERATURE: air.temperature_k + self.offset_k + chance.gauss(0.0, self.noise_k),
            Quantity.RELATIVE_HUMIDITY: _share(
                air.humidity + self.offset_humidity + chance.gauss(0.0, self.noise_humidity)
            ),
            Quantity.AIR_SPEED: max(air.speed_m_s * (1.0 + chance.gauss(0.0, 0.05)), 0.0),
            Quantity.PRESSURE: air.pressure_pa + chance.gauss(0.0, 10.0),
        }
        return {quantity: all_of_it[quantity] for quantity in self.quantities}

    def _broken(self, values: dict[Quantity, float], chance: random.Random) -> dict[Quantity, float]:
        if Quantity.AIR_TEMPERATURE in values and chance.random() < 0.5:
            return {**values, Quantity.AIR_TEMPERATURE: BROKEN_K}
        return {**values, self.quantities[-1]: math.nan}


def _share(humidity: float) -> float:
    return min(max(humidity, 0.0), 1.0)
