"""The solver against closed solutions for a slab, with everything else of the model switched off.

No latent heat, no activation energy, constant diffusivity, and an isotherm that is a straight line: the face's
water activity is then its saturation, and the surface stays as warm as the air.
Source: J. Crank, The Mathematics of Diffusion, 2nd ed. 1975: p. 48 (face at equilibrium, tables 4.1 and 4.2) and
section 4.3.6 (surface resistance); also H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, table IV.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from service.drying import air, transfer
from service.drying.isotherm import Array
from service.drying.shell import CELLS_PER_COAT, Coat, Parameters, ZoneShape
from service.drying.solver import advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState

ROOM_K, PRESSURE_PA, SPEED_M_S = 293.15, 101325.0, 0.6
DIFFUSIVITY = 4e-10
THICKNESS_M = 10e-3
COATS = (Coat(THICKNESS_M / 20),) * 20
PORES = COATS[0].pore_water_kg_m3
SHAPE = ZoneShape(0.2, 0.04)
NO_LIMITS = Limits(-1.0, -1.0)


@dataclass(frozen=True)
class StraightLine:
    """X = full * a."""

    full: float

    def water_content(self, activity: Array) -> Array:
        return self.full * activity

    def water_content_slope(self, activity: Array) -> Array:
        return np.full_like(activity, self.full)

    def activity(self, water_content: Array) -> Array:
        return np.clip(water_content / self.full, 0.0, 1.0)


PLAIN = Parameters(
    diffusivity_m2_s=DIFFUSIVITY,
    diffusivity_slope=0.0,
    activation_energy_j_mol=0.0,
    latent_heat_j_kg=0.0,
    isotherm=StraightLine(PORES / COATS[0].dry_density_kg_m3),
)


def moved(start: float, humidity: float, dimensionless_time: float, parameters: Parameters) -> float:
    """Share of the final change reached at D t / L^2, by a slab sealed on one face."""
    slab = ZoneState(SHAPE, 0.0, ROOM_K, COATS, np.full(20 * CELLS_PER_COAT, start))
    until_s = dimensionless_time * THICKNESS_M**2 / DIFFUSIVITY
    room = AirSeries.constant(ROOM_K, humidity, SPEED_M_S, PRESSURE_PA)
    end = advance([slab], [until_s], room, parameters, [NO_LIMITS])[0].state
    return (slab.water_kg_m2 - end.water_kg_m2) / (PORES * THICKNESS_M * (start - humidity))


def with_face_resistance(biot: float) -> Parameters:
    """k L / D = biot, where k drives the water by the saturation of the face."""
    heat = transfer.convection_w_m2_k(ROOM_K, ROOM_K, SPEED_M_S, SHAPE.height_m, SHAPE.width_m, PRESSURE_PA)
    by_vapour = float(transfer.mass_transfer_m_s(heat, ROOM_K, PRESSURE_PA))
    by_saturation = by_vapour * float(air.vapour_density_kg_m3(ROOM_K, 1.0)) / PORES
    return replace(PLAIN, transfer_multiplier=biot * DIFFUSIVITY / THICKNESS_M / by_saturation)


def series_for_resistance(biot: float, time: float) -> float:
    """Crank eq. 4.53: roots of b tan b = biot, by halving; 30 terms."""
    total = 0.0
    for n in range(30):
        low, high = n * np.pi, (n + 0.5) * np.pi - 1e-12
        for _ in range(80):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if middle * np.tan(middle) < biot else (low, middle)
        total += 2 * biot**2 * np.exp(-(low**2) * time) / (low**2 * (low**2 + biot**2 + biot))
    return 1.0 - total


FACE_AT_EQUILIBRIUM = pytest.mark.parametrize(
    ("time", "uptake"), [(0.05, 0.25231), (0.2, 0.50409), (0.5, 0.76395), (1.0, 0.93126)]
)
FACE_RESISTANCE = pytest.mark.parametrize(
    ("time", "uptake"), [(0.1, 0.0804), (0.5, 0.3189), (1.0, 0.5296), (2.0, 0.7756)]
)


@FACE_AT_EQUILIBRIUM
def test_wet_slab_into_dry_air(time: float, uptake: float) -> None:
    """2e-4: eighty cells."""
    assert moved(1.0, 0.0, time, with_face_resistance(1e7)) == pytest.approx(uptake, abs=2e-4)


@FACE_AT_EQUILIBRIUM
def test_dry_slab_into_damp_air_is_the_same_the_other_way(time: float, uptake: float) -> None:
    """Taking up water from nothing to 0.8; 5e-4."""
    assert moved(0.0, 0.8, time, with_face_resistance(1e7)) == pytest.approx(uptake, abs=5e-4)


@FACE_RESISTANCE
def test_slab_behind_an_air_film(time: float, uptake: float) -> None:
    """k L / D = 1; 2e-4."""
    assert moved(1.0, 0.0, time, with_face_resistance(1.0)) == pytest.approx(uptake, abs=2e-4)


@FACE_RESISTANCE
def test_the_printed_numbers_follow_the_series(time: float, uptake: float) -> None:
    assert series_for_resistance(1.0, time) == pytest.approx(uptake, abs=1e-4)


@pytest.mark.parametrize("biot", [0.1, 10.0])
@pytest.mark.parametrize("time", [0.1, 0.5, 2.0])
def test_thin_and_thick_air_films(biot: float, time: float) -> None:
    """The same series for other resistances; 3e-4."""
    expected = series_for_resistance(biot, time)
    assert moved(1.0, 0.0, time, with_face_resistance(biot)) == pytest.approx(expected, abs=3e-4)


def test_early_drying_follows_the_square_root_of_time() -> None:
    """Crank eq. 4.20: 2 sqrt(T / pi) for small T = D t / L^2; 1 %."""
    for time in (0.02, 0.05, 0.1):
        expected = 2.0 * np.sqrt(time / np.pi)
        assert moved(1.0, 0.0, time, with_face_resistance(1e7)) == pytest.approx(expected, rel=0.01)
