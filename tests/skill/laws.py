"""How water may really move and cling in a shell: the model's own laws, and others that it does not know.

Every other law is brought to the size of the model's own, so that a shop of another law is odd in shape, not in pace.
All numbers here are assumed; the forms are common ones for porous stuff and for sorption: power law and constant
diffusivity (Crank, The Mathematics of Diffusion, ch. 7 and 9), Oswin 1946 and Halsey 1948 isotherms (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.drying.isotherm import Gab
from service.drying.shell import Parameters

Array = NDArray[np.float64]

USUAL = Parameters()
OF_USE = np.linspace(0.1, 1.0, 901)
"""Saturations over which the laws of diffusion have one mean: a coat is ready at 0.35, its face is drier."""


def exponential(saturation: Array) -> Array:
    """The model's own: D0 exp(b s), as a multiple of D0."""
    return np.exp(USUAL.diffusivity_slope * saturation)


def _power(saturation: Array) -> Array:
    return 0.02 + np.maximum(saturation, 0.0) ** 4


def _constant(saturation: Array) -> Array:
    return np.ones_like(saturation)


def _film_breaks(saturation: Array) -> Array:
    """Below about two fifths full the water no longer hangs together and hardly moves."""
    hangs_together = 1.0 / (1.0 + np.exp(-(saturation - 0.4) / 0.04))
    return exponential(saturation) * (0.1 + 0.9 * hangs_together)


def _like_the_usual(law: Callable[[Array], Array]) -> Callable[[Array], Array]:
    share = float(exponential(OF_USE).mean() / law(OF_USE).mean())
    return lambda saturation: share * law(saturation)


DIFFUSION: dict[str, Callable[[Array], Array]] = {
    "exponential": exponential,
    "power": _like_the_usual(_power),
    "constant": _like_the_usual(_constant),
    "film breaks": _like_the_usual(_film_breaks),
}


def _oswin(content: Array) -> Array:
    """X = A (a / (1 - a))^B with A 0.022, B 0.40."""
    return 1.0 / (1.0 + (0.022 / np.maximum(content, 1e-9)) ** 2.5)


def _halsey(content: Array) -> Array:
    """a = exp(-k / X^n) with k 0.00202, n 1.32."""
    return np.exp(-0.00202 / np.maximum(content, 1e-9) ** 1.32)


ACTIVITY: dict[str, Callable[[Array], Array]] = {
    "usual": Gab().activity,
    "more gel": Gab(0.016, 6.0, 0.90).activity,
    "oswin": _oswin,
    "halsey": _halsey,
}
"""Water activity (0..1) at a water content (kg a kg of dry shell)."""


@dataclass(frozen=True, slots=True)
class Laws:
    """What a shop's shells obey, by name."""

    diffusion: str = "exponential"
    isotherm: str = "usual"
