"""What can be learned of a shop: named multipliers, kept as their natural logarithms."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class EffectKind(StrEnum):
    DRAUGHT = "draught"  # how fast water leaves the face
    DRYING = "drying"  # how fast water comes through a coat
    THICKNESS = "thickness"  # how thick a dip lays a coat
    SOAKING = "soaking"  # how much a dip soaks into the coats under it
    POCKET = "pocket"  # how well the air in a pocket is stirred


@dataclass(frozen=True, slots=True, order=True)
class Effect:
    """One multiplier of the shop. What a mould has is the product of all its effects and of something of its own.

    of: "" of the whole shop; else what it is about: a room and hook, a recipe and kind of coat.
    epoch: how often it was learned anew; what was learned before stands under the number before.
    """

    kind: EffectKind
    of: str = ""
    epoch: int = 0
