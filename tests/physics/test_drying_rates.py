"""Constant-rate and falling-rate drying, against worked examples of a textbook.

Source: C. J. Geankoplis, Transport Processes and Unit Operations, 3rd ed. 1993, examples 9.6-3 and 9.7-2.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from service.drying import air, transfer
from service.drying.shell import CELLS_PER_COAT, Coat, Parameters, ZoneShape
from service.drying.solver import advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState
from tests.physics.test_slab_diffusion import StraightLine

PRESSURE_PA = 101325.0
SHAPE = ZoneShape(0.2, 0.04)


def test_constant_rate_example() -> None:
    """Ex. 9.6-3: 65.6 degC air, wet bulb 28.9 degC, h 62.45 W/m2/K, 2433 kJ/kg: 3.39 kg/h/m2, to its last digit."""
    rate = transfer.constant_rate_kg_m2_s(62.45, 65.6 + 273.15, 28.9 + 273.15, 2433e3)
    assert float(rate) * 3600.0 == pytest.approx(3.39, abs=0.005)


def test_falling_rate_example() -> None:
    """Ex. 9.7-2: 399 kg on 18.58 m2 from X 0.195 at 1.51 kg/h/m2, the rate falling in proportion to X: 4.39 h to 0.040.

    Played on the solver as a slab that is mixed through at once. The example rounds to 0.01 h; 0.2 %.
    """
    room_k, critical = 293.15, 0.195
    solid_kg_m2 = 399.0 / 18.58
    porosity = critical * 1650.0 / 998.0
    coat = Coat(solid_kg_m2 / 1650.0, porosity)
    slab = ZoneState(SHAPE, 0.0, room_k, (coat,), np.ones(CELLS_PER_COAT))
    mixed = Parameters(
        diffusivity_m2_s=1e-2,
        diffusivity_slope=0.0,
        latent_heat_j_kg=0.0,
        isotherm=StraightLine(critical),
    )
    heat = transfer.convection_w_m2_k(room_k, room_k, 0.6, SHAPE.height_m, SHAPE.width_m, PRESSURE_PA)
    wet_kg_m2_s = float(
        transfer.mass_transfer_m_s(heat, room_k, PRESSURE_PA) * air.vapour_density_kg_m3(room_k, 1.0)
    )
    mixed = replace(mixed, transfer_multiplier=1.51 / 3600.0 / wet_kg_m2_s)
    dry_room = AirSeries.constant(room_k, 0.0, 0.6, PRESSURE_PA)
    dried = advance([slab], [20 * 3600.0], dry_room, mixed, [Limits(water_share=0.040)])[0]
    assert dried.dry_s is not None
    assert dried.dry_s / 3600.0 == pytest.approx(4.39, rel=0.002)


@pytest.mark.parametrize("humidity", [0.2, 0.5, 0.8])
@pytest.mark.parametrize("speed_m_s", [0.6, 3.0])
def test_a_wet_face_without_radiation_is_a_wet_bulb(humidity: float, speed_m_s: float) -> None:
    """A wetted thermometer in moving air reads nearly the thermodynamic wet bulb (ASHRAE HoF 2017 ch. 1).

    8 % of the depression: by Chilton and Colburn's Le^(2/3) = 0.89 vapour leaves a little faster than heat comes.
    """
    room_k = 294.15
    wet = ZoneState(SHAPE, 0.0, room_k, (Coat(20e-3),), np.ones(CELLS_PER_COAT))
    quick = Parameters(emissivity=0.0, wax_heat_j_m2_k=0.0, diffusivity_m2_s=1e-7, shell_heat_j_kg_k=50.0)
    room = AirSeries.constant(room_k, humidity, speed_m_s, PRESSURE_PA)
    cold_k = advance([wet], [3600.0], room, quick, [Limits()])[0].state.surface_k
    bulb_k = float(air.wet_bulb_k(room_k, humidity, PRESSURE_PA))
    assert room_k - cold_k == pytest.approx(room_k - bulb_k, rel=0.08)


def test_the_wet_face_dries_at_the_rate_its_heat_allows() -> None:
    """Once settled, J L = (h + h_r)(T_air - T_s), worked out beside the solver (Geankoplis sec. 9.6C); 0.2 %."""
    room_k = 294.15
    wet = ZoneState(SHAPE, 0.0, room_k, (Coat(20e-3),), np.ones(CELLS_PER_COAT))
    parameters = Parameters(diffusivity_m2_s=1e-7, wax_heat_j_m2_k=0.0)
    room = AirSeries.constant(room_k, 0.45, 0.6, PRESSURE_PA)
    settled = advance([wet], [4 * 3600.0], room, parameters, [Limits()])[0].state
    later = advance([settled], [4 * 3600.0 + 600.0], room, parameters, [Limits()])[0].state
    heat = transfer.convection_w_m2_k(
        room_k, settled.surface_k, 0.6, SHAPE.height_m, SHAPE.width_m, PRESSURE_PA
    ) + transfer.radiation_w_m2_k(0.5 * (room_k + settled.surface_k))
    expected = float(transfer.constant_rate_kg_m2_s(heat, room_k, settled.surface_k)) * 600.0
    assert later.evaporated_kg_m2 - settled.evaporated_kg_m2 == pytest.approx(expected, rel=0.002)
