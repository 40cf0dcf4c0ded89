"""What passes between air and face, written twice: both must be the same numbers, to 1e-9."""

from __future__ import annotations

import numpy as np
import pytest

from service.drying import air, transfer
from service.drying.shell import Coat, Parameters, Pocket, ZoneShape
from service.drying.weather import AirSeries
from service.drying.zone import dip, hang
from tests.physics.second_model import Zone, dry_air, saturated_kg_m3, vapour_in_air_m2_s

TEMPERATURES = [274.0, 286.5, 294.15, 308.0, 323.15]
PRESSURES = [70e3, 101325.0]
SHAPES = [
    ZoneShape(0.05, 0.02),
    ZoneShape(0.4, 0.3),
    ZoneShape(0.4, 0.3, Pocket(0.08, 0.04)),
    ZoneShape(0.8, 0.5, Pocket(0.06, 0.02, round_hole=False)),
]


@pytest.mark.parametrize("kelvin", TEMPERATURES)
@pytest.mark.parametrize("pascal", PRESSURES)
def test_properties(kelvin: float, pascal: float) -> None:
    conductivity, kinematic, thermal, density = dry_air(kelvin, pascal)
    assert air.conductivity_w_m_k(kelvin) == pytest.approx(conductivity, rel=1e-9)
    assert air.density_kg_m3(kelvin, pascal) == pytest.approx(density, rel=1e-9)
    assert air.viscosity_pa_s(kelvin) == pytest.approx(kinematic * density, rel=1e-9)
    assert air.thermal_diffusivity_m2_s(kelvin, pascal) == pytest.approx(thermal, rel=1e-9)
    assert air.vapour_diffusivity_m2_s(kelvin, pascal) == pytest.approx(
        vapour_in_air_m2_s(kelvin, pascal), rel=1e-9
    )
    assert air.vapour_density_kg_m3(kelvin, 1.0) == pytest.approx(saturated_kg_m3(kelvin), rel=1e-9)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("speed_m_s", [0.0, 0.2, 1.5])
@pytest.mark.parametrize("colder_k", [-3.0, 0.0, 0.1, 6.0])
@pytest.mark.parametrize("pascal", PRESSURES)
def test_transfer(shape: ZoneShape, speed_m_s: float, colder_k: float, pascal: float) -> None:
    air_k, face_k = 294.15, 294.15 - colder_k
    parameters = Parameters()
    bare = dip(hang(shape, air_k, 0.0), Coat(1e-3), 15.0, parameters)
    zone = Zone(bare, AirSeries.constant(air_k, 0.5, speed_m_s, pascal), parameters)
    heat, mass = zone.transfer(air_k, face_k, speed_m_s, pascal)
    film_k = 0.5 * (air_k + face_k)
    convection = transfer.convection_w_m2_k(air_k, face_k, speed_m_s, shape.height_m, shape.width_m, pascal)
    pocket = shape.pocket or Pocket(0.0, 1.0)
    resistance = 1.0 / transfer.mass_transfer_m_s(convection, film_k, pascal)
    resistance += transfer.pocket_resistance_s_m(
        pocket.depth_m, pocket.width_m, pocket.round_hole, air_k, pascal, parameters.pocket_stirring
    )
    assert convection + transfer.radiation_w_m2_k(film_k, parameters.emissivity) == pytest.approx(
        heat, rel=1e-9
    )
    assert np.reciprocal(resistance) == pytest.approx(mass, rel=1e-9)
