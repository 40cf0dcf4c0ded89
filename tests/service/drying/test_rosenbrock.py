"""One ROS2 step: its order, its error estimate, and the water it keeps."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from service.drying.batch import Shells, padded, shells_of
from service.drying.rates import Change, Derivative
from service.drying.rosenbrock import GAMMA, State, _Stage, rosenbrock_step
from service.drying.shell import CELLS_PER_COAT, Parameters
from service.drying.weather import AirSeries
from service.drying.zone import ZoneState
from tests.service.drying.batches import BACKUP, FACE, HOLE, PARAMETERS, PRESSURE_PA, PRIME, wet

Array = NDArray[np.float64]
SMOOTH = Parameters(activation_energy_j_mol=0.0)


def zones() -> list[ZoneState]:
    two, three = wet(FACE, [PRIME, BACKUP]), wet(HOLE, [PRIME, PRIME, BACKUP])
    return [
        replace(two, saturation=np.linspace(0.3, 0.8, 2 * CELLS_PER_COAT)),
        replace(three, saturation=np.linspace(0.2, 0.5, 3 * CELLS_PER_COAT)),
    ]


def start(parameters: Parameters = PARAMETERS) -> tuple[Shells, State]:
    saturation = padded([zone.saturation for zone in zones()], 0.0)
    rows = np.concatenate([[[290.0, 291.0]], saturation])
    return shells_of(zones(), parameters), State(rows, np.zeros(2))


def derivative(shells: Shells, humidity: float = 0.5, speed_m_s: float = 0.3) -> Derivative:
    air = AirSeries.constant(294.15, humidity, speed_m_s, PRESSURE_PA)
    return Derivative(shells, air.at(np.zeros(2)))


def water(shells: Shells, state: State) -> Array:
    inside: Array = (state.saturation * shells.water_weight).sum(axis=0)
    return inside + state.evaporated


@cache
def marched(steps: int, span_s: float = 1200.0) -> State:
    shells, state = start()
    rates = derivative(shells)
    for _ in range(steps):
        state, *_ = rosenbrock_step(rates, state, np.full(2, span_s / steps))
    return state


class TestOrder:
    def test_halving_the_step_quarters_the_error(self) -> None:
        exact = marched(512)
        errors = [np.abs(marched(n).saturation - exact.saturation).max(axis=0) for n in (32, 64, 128)]
        for coarse, fine in pairwise(errors):
            assert coarse / fine == pytest.approx(np.full(2, 4.0), rel=0.15)

    def test_the_surface_temperature_too(self) -> None:
        exact = marched(512)
        errors = [np.abs(marched(n).surface - exact.surface) for n in (16, 32, 64)]
        for coarse, fine in pairwise(errors):
            assert np.all(coarse / fine > 3.0)

    def test_the_error_estimate_shrinks_with_the_square_of_the_step(self) -> None:
        shells, state = start()
        sizes = []
        for step in (0.4, 0.2, 0.1):
            error = rosenbrock_step(derivative(shells), state, np.full(2, step)).error
            sizes.append(np.abs(error[1:]).max(axis=0))
        assert sizes[0] / sizes[1] == pytest.approx(np.full(2, 4.0), rel=0.2)
        assert sizes[1] / sizes[2] == pytest.approx(np.full(2, 4.0), rel=0.2)

    def test_a_vanishing_step_follows_what_it_began_with(self) -> None:
        shells, state = start()
        new, _, newest, left = rosenbrock_step(derivative(shells), state, np.full(2, 1e-4))
        gained = (new.saturation - state.saturation) * shells.holds
        assert gained[:CELLS_PER_COAT] == pytest.approx(newest, rel=1e-3, abs=1e-13)
        assert new.evaporated - state.evaporated == pytest.approx(left, rel=1e-3)

    def test_each_zone_takes_its_own_step(self) -> None:
        shells, state = start()
        rates = derivative(shells)
        mixed, *_ = rosenbrock_step(rates, state, np.array([5.0, 300.0]))
        short, *_ = rosenbrock_step(rates, state, np.full(2, 5.0))
        long, *_ = rosenbrock_step(rates, state, np.full(2, 300.0))
        assert mixed.saturation[:, 0] == pytest.approx(short.saturation[:, 0], rel=1e-12)
        assert mixed.saturation[:, 1] == pytest.approx(long.saturation[:, 1], rel=1e-12)


class TestStability:
    def test_day_long_steps_near_equilibrium_settle_on_it(self) -> None:
        """L-stable: what is ten thousand times faster than the step dies out, and does not ring."""
        shells, state = start()
        content = PARAMETERS.isotherm.water_content(np.array([0.5]))[0]
        rest = content * BACKUP.dry_density_kg_m3 / BACKUP.pore_water_kg_m3
        used = shells.water_weight > 0.0
        disturbed = np.where(used, rest, 0.0)
        disturbed[0] *= 1.02
        state = state._replace(rows=np.concatenate([np.full((1, 2), 294.1), disturbed]))
        for _ in range(4):
            state, *_ = rosenbrock_step(derivative(shells, humidity=0.5), state, np.full(2, 86400.0))
        assert state.saturation[used] == pytest.approx(np.full(used.sum(), rest), rel=1e-4)
        assert state.surface == pytest.approx(np.full(2, 294.15), abs=1e-4)


class TestWater:
    @settings(max_examples=50)
    @given(step=st.floats(1e-3, 1e4), humidity=st.floats(0.0, 1.0), speed=st.floats(0.0, 3.0))
    def test_a_step_of_any_length_keeps_it_to_rounding(
        self, step: float, humidity: float, speed: float
    ) -> None:
        shells, state = start()
        new, *_ = rosenbrock_step(derivative(shells, humidity, speed), state, np.full(2, step))
        assert water(shells, new) == pytest.approx(water(shells, state), abs=1e-12)

    def test_padding_stays_dry(self) -> None:
        shells, state = start()
        new, *_ = rosenbrock_step(derivative(shells), state, np.full(2, 600.0))
        assert not new.saturation[2 * CELLS_PER_COAT :, 0].any()

    def test_the_state_before_is_left_alone(self) -> None:
        shells, state = start()
        before = [part.copy() for part in state]
        rosenbrock_step(derivative(shells), state, np.full(2, 600.0))
        assert all(np.array_equal(a, b) for a, b in zip(state, before, strict=True))


def kept(change: Change) -> Change:
    """A copy that later changes do not write over."""
    arrays = (change.rows, change.difference, change.conductance)
    rows, difference, conductance = (array.copy() for array in arrays)
    return change._replace(rows=rows, difference=difference, conductance=conductance)


class TestStage:
    """The factored matrix is (I - gamma h A), with A the derivative of what changes."""

    @staticmethod
    def jacobian_times(rates: Derivative, at: State, along: Array) -> Array:
        e = 1e-5
        up, down = (rates.change(at.rows + sign * e * along, np.ones(2)).rows for sign in (1.0, -1.0))
        out: Array = (up - down) / (2 * e)
        return out

    @staticmethod
    def mass(shells: Shells) -> Array:
        return np.concatenate([np.ones((1, 2)), shells.holds])

    @settings(max_examples=30)
    @given(seed=st.integers(0, 10**6))
    def test_solving_undoes_multiplying(self, seed: int) -> None:
        """In wind and without activation energy next to nothing is left out: 5 % of the face's answer to its warmth."""
        random = np.random.default_rng(seed)
        shells, at = start(SMOOTH)
        rates = derivative(shells, speed_m_s=3.0)
        step = np.full(2, 60.0)
        change, weight = kept(rates.change(at.rows, step)), GAMMA * step
        right = random.normal(size=at.rows.shape) * self.mass(shells) * (at.rows > 0.0)
        right[1:] *= 1e-3
        k, _ = _Stage(shells, change, step, rates.work).solve(right.copy(), np.zeros(2))
        off = np.abs(self.mass(shells) * k - weight * self.jacobian_times(rates, at, k) - right)
        left_out = 0.05 * weight * change.face.by_temperature * np.abs(k[0])
        assert np.all(off[1] <= 1e-6 * shells.holds[0] + left_out)
        assert np.all(off[2:] <= 1e-6 * shells.holds[1:])
        latent = shells.parameters.latent_heat_j_kg / shells.heat_j_m2_k
        assert np.all(off[0] <= 1e-4 + latent * left_out * 2)

    def test_diffusion_alone_is_exact(self) -> None:
        """At one temperature the derivative within the shell has nothing left out."""
        shells, at = start()
        rates = derivative(shells)
        step = np.full(2, 60.0)
        change, weight = kept(rates.change(at.rows, step)), GAMMA * step
        right = np.zeros_like(at.rows)
        right[6, :] = 1e-3 * shells.holds[5]
        no_warmth = change.face._replace(by_temperature=np.zeros(2))
        k, _ = _Stage(shells, change._replace(face=no_warmth), step, rates.work).solve(
            right.copy(), np.zeros(2)
        )
        k[0] = 0.0
        found = self.mass(shells) * k - weight * self.jacobian_times(rates, at, k)
        assert found[1:] == pytest.approx(right[1:], abs=1e-9 * float(shells.holds.max()))
