"""What is thought before anything was learned: how far each multiplier may lie off the plain model.

Log-normal, and split so that a mould's whole doubt is that of `TOTAL`, however many effects of the shop bear on it:
what the shop, the hook or the recipe have in common with other moulds can be learned; the rest is the mould's own.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from service.learning.effect import Effect, EffectKind

Array = NDArray[np.float64]

TOTAL = {
    EffectKind.DRAUGHT: 0.35,  # correlations differ by a factor of two to three at shell-room air speeds
    EffectKind.DRYING: 0.5,  # only the order of magnitude of the diffusivity is published
    EffectKind.THICKNESS: 0.15,  # (assumed)
    EffectKind.SOAKING: 0.3,  # (assumed)
    EffectKind.POCKET: 0.4,  # (assumed)
}
"""Standard deviations of the natural logarithms, as the drying model states them."""

SHOP = {
    EffectKind.DRAUGHT: 0.26,
    EffectKind.DRYING: 0.40,
    EffectKind.THICKNESS: 0.11,
    EffectKind.SOAKING: 0.25,
    EffectKind.POCKET: 0.30,
}
"""The share of the whole shop (all assumed): one room, one habit of dipping, one error of a model number."""

NAMED = {
    EffectKind.DRAUGHT: 0.20,
    EffectKind.DRYING: 0.27,
    EffectKind.THICKNESS: 0.08,
    EffectKind.SOAKING: 0.12,
    EffectKind.POCKET: 0.22,
}
"""The share of one hook, of one recipe's coats of a kind, of one sort of pocket (all assumed)."""

PACE = 0.10
"""What each wait has of its own, in draught and drying alike (assumed): the day's doors and fans, and that the model
is not true. Drawn anew at each dip, so that no number of readings of one wait makes the next one certain."""

AREA = 0.25
"""Areas are reckoned from a few sizes, never measured (assumed)."""

LEAST_OWN = 0.05
"""No two moulds are quite alike, whatever has been named (our choice)."""


def spread(effect: Effect) -> float:
    """Standard deviation of the logarithm of one effect of the shop."""
    return (NAMED if effect.of else SHOP)[effect.kind]


def own_spread(kind: EffectKind, effects: Sequence[Effect]) -> float:
    """What is left to a mould, beside these effects and its pace, so that all together come to `TOTAL`."""
    paced = PACE if kind in (EffectKind.DRAUGHT, EffectKind.DRYING) else 0.0
    left = TOTAL[kind] ** 2 - paced**2 - sum(spread(effect) ** 2 for effect in effects)
    return float(np.sqrt(max(left, LEAST_OWN**2)))


def prior(effects: Sequence[Effect]) -> tuple[Array, Array]:
    """Mean (n,) and covariance (n, n) of these effects before anything was heard."""
    return np.zeros(len(effects)), np.diag([spread(effect) ** 2 for effect in effects])
