"""One step of ROS2 for a batch of zones.

Two-stage Rosenbrock method (Verwer, Spee, Blom & Hundsdorfer, SIAM J. Sci. Comput. 20(4), 1999, 1456-1480, from
memory): second order with any Jacobian, L-stable with gamma = 1 - 1/sqrt(2). The water that left is carried through
the same stages as the water inside, so their sum is kept to rounding.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.drying.rates import Derivative, Face, Shells, Slope
from service.drying.tridiagonal import eliminate, solve

Array = NDArray[np.float64]
GAMMA = 1.0 - 1.0 / np.sqrt(2.0)


class State(NamedTuple):
    """Surface temperature (zones,), saturation (cells, zones), water that left (zones,)."""

    surface: Array
    saturation: Array
    evaporated: Array


def rosenbrock_step(derivative: Derivative, at: State, step: Array) -> tuple[State, State, Slope]:
    """One ROS2 step: the new state, the error estimate, and the slope at the start."""
    slope, face, inner, g = derivative.slope(at.surface, at.saturation)
    stage = _Stage(derivative.shells, face, inner, g, GAMMA * step)
    k1 = stage.solve(slope)
    ahead, *_ = derivative.slope(at.surface + step * k1.surface, at.saturation + step * k1.saturation)
    k2 = stage.solve(Slope(*(a - 2.0 * k for a, k in zip(ahead, k1, strict=True))))
    new = State(*(u + step * (1.5 * a + 0.5 * b) for u, a, b in zip(at, k1, k2, strict=True)))
    error = State(*(0.5 * step * (a + b) for a, b in zip(k1, k2, strict=True)))
    return new, error, slope


class _Stage:
    """(I - gamma step A), factored once for both stages. Rows: surface temperature, then cells from the face in."""

    def __init__(self, shells: Shells, face: Face, inner: Array, g: Array, weight: Array) -> None:
        bend = 0.5 * shells.parameters.diffusivity_slope * inner
        lower, diagonal, upper = np.zeros((3, shells.cells + 1, weight.size))
        latent = shells.parameters.latent_heat_j_kg
        diagonal[0] = -(face.heat_w_m2_k + latent * face.by_temperature) / shells.heat_j_m2_k
        upper[0] = -latent * face.by_saturation / shells.heat_j_m2_k
        lower[1] = -face.by_temperature / shells.holds[0]
        diagonal[1] = -face.by_saturation / shells.holds[0]
        diagonal[1:-1] += (bend - g) / shells.holds[:-1]
        upper[1:-1] = (bend + g) / shells.holds[:-1]
        lower[2:] = -(bend - g) / shells.holds[1:]
        diagonal[2:] -= (bend + g) / shells.holds[1:]
        self.face, self.weight = face, weight
        self.upper = -weight * upper
        self.multipliers, self.inverse = eliminate(-weight * lower, 1.0 - weight * diagonal, self.upper)

    def solve(self, right: Slope) -> Slope:
        """The stage's slopes. The water that left has a row of its own, which nothing else depends on."""
        rows = np.concatenate([right.surface[None], right.saturation])
        k = solve(self.multipliers, self.inverse, self.upper, rows)
        leaving = self.face.by_temperature * k[0] + self.face.by_saturation * k[1]
        return Slope(k[0], k[1:], right.evaporated + self.weight * leaving)
