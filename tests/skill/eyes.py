"""What the people of a hidden shop see of it: weights, faces, hands and sheds, with their noise and their mistakes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.learning.story import FaceRead, Felt, Redipped, Weighed
from tests.skill.shop import Habits, Mould
from tests.skill.truth import Patch

SHEDS_ABOVE, SHEDS_NOISE = 0.60, 0.08
"""A coat redipped wetter than about this lets go of the next (assumed: between Dooley and Everden's 1 h and 2 h)."""
HELD_TOLD = 0.2


@dataclass
class Eyes:
    """One shop's instruments and hands. Each look is numbered."""

    habits: Habits
    draw: np.random.Generator
    number: int = 0

    def _next(self) -> int:
        self.number += 1
        return self.number

    def _mistaken(self) -> bool:
        return bool(self.draw.random() < self.habits.gross)

    def weigh(self, mould: Mould, zones: Sequence[Sequence[Patch]], at_s: float) -> Weighed:
        """A mistake: another mould on the scale, or a slip of the decimal point."""
        mass = mould.wax_kg + sum(
            zone.area * zone.area_m2 * piece.share * patch.mass_kg_m2
            for zone, patches in zip(mould.zones, zones, strict=True)
            for piece, patch in zip(zone.pieces, patches, strict=True)
        )
        mass += self.draw.normal(0.0, self.habits.scale_kg)
        if self._mistaken():
            mass = self.draw.choice([10.0 * mass, 0.1 * mass, mass + self.draw.uniform(0.2, 2.0)])
        return Weighed(self._next(), at_s, max(float(mass), 0.001))

    def read_face(self, zones: Sequence[Sequence[Patch]], air_k: float, at_s: float) -> FaceRead:
        """A mistake: the gun at the wall behind."""
        zone = int(self.draw.integers(len(zones)))
        seen_k = air_k if self._mistaken() else zones[zone][0].surface_k
        noise = self.draw.normal(0.0, self.habits.gun_noise_k)
        return FaceRead(self._next(), at_s, zone, float(seen_k + self.habits.gun_bias_k + noise))

    def feel(self, zones: Sequence[Sequence[Patch]], at_s: float) -> Felt:
        """A hand over the whole mould. Lapses and mistakes: the other word."""
        wettest = max(patch.newest for patches in zones for patch in patches)
        threshold = self.habits.hand_threshold + self.draw.normal(0.0, self.habits.hand_noise)
        wrong = self.draw.random() < self.habits.lapse or self._mistaken()
        return Felt(self._next(), at_s, None, bool((wettest <= threshold) != wrong))

    def redip(self, wettest: float, coat: int, at_s: float) -> Redipped | None:
        """What became of it, if anybody wrote it down: a shed always, that it held now and then."""
        shed = wettest > self.draw.normal(SHEDS_ABOVE, SHEDS_NOISE)
        told = shed or self.draw.random() < HELD_TOLD
        return Redipped(self._next(), at_s, coat, bool(shed)) if told else None
