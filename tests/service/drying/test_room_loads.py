"""What tanks and people give to a room."""

from __future__ import annotations

import numpy as np
import pytest

from service.drying.air import vapour_density_kg_m3
from service.drying.room_loads import Tanks, people_loads
from service.drying.transfer import convection_w_m2_k, mass_transfer_m_s

SEA_PA = 101325.0


def test_somebody_at_light_work_gives_some_80_grams_an_hour() -> None:
    """55 W latent: ASHRAE HoF 2017 ch. 18 table 1, from memory."""
    water, heat = people_loads(2)
    assert float(water) * 3600.0 == pytest.approx(2 * 0.081, rel=0.01)
    assert float(heat) == pytest.approx(150.0)


def test_an_open_tank_gives_off_as_its_face_lets_go() -> None:
    tanks = Tanks(0.5, across_m=0.6)
    conductance, face = tanks.conductance_m3_s(294.15, 0.4, SEA_PA)
    h = convection_w_m2_k(294.15, 294.15, 0.4, 0.6, 0.6, SEA_PA)
    assert float(conductance) == pytest.approx(0.5 * float(mass_transfer_m_s(h, 294.15, SEA_PA)))
    assert float(face) == pytest.approx(float(vapour_density_kg_m3(294.15, 1.0)))


def test_half_a_square_metre_in_a_dry_still_room_loses_a_cupful_or_two_a_day() -> None:
    """Indoor pools and pans lose 0.05 to 0.2 kg/h/m2 (common practice, no source): the right order."""
    tanks = Tanks(0.5)
    conductance, face = tanks.conductance_m3_s(294.15, 0.2, SEA_PA)
    air = vapour_density_kg_m3(294.15, 0.5)
    assert 0.05 < float(conductance * (face - air)) / 0.5 * 3600.0 < 0.2


def test_more_draught_takes_more() -> None:
    still, _ = Tanks(0.5).conductance_m3_s(294.15, np.array([0.1, 0.5, 1.5]), SEA_PA)
    assert np.all(np.diff(still) > 0.0)
