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
from service.drying.rates import Change, Derivative, Work
from service.drying.shell import CELLS_PER_COAT
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


class Step(NamedTuple):
    """The new state, the error estimate of its rows, and what it began with: of the newest coat, and what left."""

    new: State
    error: Array
    newest: Array
    left: Array


def rosenbrock_step(derivative: Derivative, at: State, step_s: Array) -> Step:
    """One ROS2 step."""
    change = derivative.change(at.rows, step_s)
    newest, left_first = change.rows[1 : 1 + CELLS_PER_COAT].copy(), change.left
    stage = _Stage(derivative.shells, change, step_s, derivative.work)
    first, left = stage.solve(change.rows, change.left)
    rows = at.rows + first
    ahead = derivative.change(rows, step_s)
    right = ahead.rows
    right -= np.multiply(derivative.shells.twice_mass, first, out=derivative.work.spare)
    second, left_again = stage.solve(right, ahead.left - 2.0 * left)
    error = first
    error += second
    error *= 0.5
    rows += error
    return Step(State(rows, at.evaporated + 1.5 * left + 0.5 * left_again), error, newest, left_first)


class _Stage:
    """(M - gamma step A), factored once for both stages; M is what a row holds: water of a cell, 1 of the surface."""

    def __init__(self, shells: Shells, change: Change, step_s: Array, work: Work) -> None:
        self.face, self.weight_s, self.upper = change.face, GAMMA * step_s, work.upper
        np.multiply(shells.twice_mass, 0.5, out=work.diagonal)
        self._inside(shells, change, work.lower, work.diagonal)
        self._at_the_face(shells, work.lower, work.diagonal)
        self.multipliers, self.inverse = eliminate(work.lower, work.diagonal, work.upper)

    def _inside(self, shells: Shells, change: Change, lower: Array, diagonal: Array) -> None:
        """Between two cells flows g (s2 - s1), and g grows with the mean of both."""
        g, bend = change.conductance, change.difference
        g *= -GAMMA
        bend *= 0.5 * shells.parameters.diffusivity_slope
        bend *= g
        upper, lower = self.upper[1:-1], lower[2:]
        np.add(g, bend, out=upper)
        np.subtract(g, bend, out=lower)
        diagonal[1:-1] -= lower
        diagonal[2:] -= upper

    def _at_the_face(self, shells: Shells, lower: Array, diagonal: Array) -> None:
        latent, face, weight = shells.parameters.latent_heat_j_kg, self.face, self.weight_s
        by_heat = weight / shells.heat_j_m2_k
        diagonal[0] += by_heat * (face.heat_w_m2_k + latent * face.by_temperature)
        self.upper[0] = by_heat * latent * face.by_saturation
        lower[1] = weight * face.by_temperature
        diagonal[1] += weight * face.by_saturation

    def solve(self, right: Array, left: Array) -> tuple[Array, Array]:
        """The stage's changes, in the place of `right`. The water that left has a row of its own."""
        k = solve(self.multipliers, self.inverse, self.upper, right)
        leaving = self.face.by_temperature * k[0] + self.face.by_saturation * k[1]
        return k, left + self.weight_s * leaving
