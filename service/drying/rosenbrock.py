"""One step of ROS2 for a batch of columns.

Two-stage Rosenbrock method (Verwer, Spee, Blom & Hundsdorfer, SIAM J. Sci. Comput. 20(4), 1999, 1456-1480, from
memory): second order with any Jacobian, L-stable with gamma = 1 - 1/sqrt(2). The water that left is carried through
the same stages as the water inside, so their sum is kept to rounding.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.drying.batch import Shells
from service.drying.rates import Derivative, Slope
from service.drying.tridiagonal import eliminate, solve

Array = NDArray[np.float64]
GAMMA = 1.0 - 0.5**0.5


class State(NamedTuple):
    """rows: (1 + cells, columns), the surface temperature and then the saturations; evaporated: (columns,)."""

    rows: Array
    evaporated: Array

    @property
    def surface(self) -> Array:
        out: Array = self.rows[0]
        return out

    @property
    def saturation(self) -> Array:
        return self.rows[1:]


def rosenbrock_step(derivative: Derivative, at: State, step: Array) -> tuple[State, Array, Slope]:
    """One ROS2 step: the new state, the error estimate of its rows, and the slope at the start."""
    slope = derivative.slope(at.rows)
    stage = _Stage(derivative.shells, slope, GAMMA * step)
    first, left = stage.solve(step * slope.rows, step * slope.face.flux)
    ahead = derivative.slope(at.rows + first)
    right = ahead.rows
    right *= step
    right -= derivative.shells.twice_mass * first
    second, left_again = stage.solve(right, step * ahead.face.flux - 2.0 * left)
    error = first + second
    error *= 0.5
    new = first + error
    new += at.rows
    return State(new, at.evaporated + 1.5 * left + 0.5 * left_again), error, slope


class _Stage:
    """(M - gamma step A), factored once for both stages; M is what a row holds: water of a cell, 1 of the surface."""

    def __init__(self, shells: Shells, slope: Slope, weight: Array) -> None:
        self.face, self.weight = slope.face, weight
        lower, diagonal, self.upper = (np.empty_like(slope.rows) for _ in range(3))
        np.multiply(shells.twice_mass, 0.5, out=diagonal)
        self._inside(shells, slope, lower, diagonal)
        self._at_the_face(shells, lower, diagonal)
        self.multipliers, self.inverse = eliminate(lower, diagonal, self.upper)

    def _inside(self, shells: Shells, slope: Slope, lower: Array, diagonal: Array) -> None:
        """Between two cells flows g (s2 - s1), and g grows with the mean of both."""
        g = slope.conductance * -self.weight
        bend = slope.difference * (0.5 * shells.parameters.diffusivity_slope)
        bend *= g
        upper, lower = self.upper[1:-1], lower[2:]
        np.add(g, bend, out=upper)
        np.subtract(g, bend, out=lower)
        diagonal[1:-1] -= lower
        diagonal[2:] -= upper

    def _at_the_face(self, shells: Shells, lower: Array, diagonal: Array) -> None:
        latent, face, weight = shells.parameters.latent_heat_j_kg, self.face, self.weight
        by_heat = weight / shells.heat_j_m2_k
        diagonal[0] += by_heat * (face.heat_w_m2_k + latent * face.by_temperature)
        self.upper[0] = by_heat * latent * face.by_saturation
        lower[1] = weight * face.by_temperature
        diagonal[1] += weight * face.by_saturation

    def solve(self, right: Array, left: Array) -> tuple[Array, Array]:
        """The stage's changes. The water that left has a row of its own, which nothing else depends on."""
        k = solve(self.multipliers, self.inverse, self.upper, right)
        return k, left + self.weight * (self.face.by_temperature * k[0] + self.face.by_saturation * k[1])
