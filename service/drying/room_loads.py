"""What gives water and heat to a room besides its moulds: people, fans, and open faces of water."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from service.drying import transfer
from service.drying.air import Values, vapour_density_kg_m3
from service.drying.isotherm import Array

LATENT_J_KG = 2.45e6
PERSON_W, PERSON_LATENT_W = 75.0, 55.0
"""Sensible and latent heat of somebody who stands at light work: ASHRAE Handbook - Fundamentals 2017, chapter 18,
table 1 (from memory)."""
PERSON_KG_S = PERSON_LATENT_W / LATENT_J_KG
"""Some 80 g an hour."""


@dataclass(frozen=True, slots=True)
class Tanks:
    """Open faces of slurry or water, together so large, and how large the middling one is across."""

    area_m2: float
    across_m: float = 0.4

    def conductance_m3_s(
        self, temperature_k: Values, speed_m_s: Values, pressure_pa: Values
    ) -> tuple[Array, Array]:
        """Area times k_m, and the vapour density at the faces: the one times the other less the air's is what leaves.

        A turning pot is taken as warm as the room, and slurry to give off water as plain water does (assumed): h and
        k_m as for a shell's face, on the tank's width.
        """
        t = np.asarray(temperature_k, np.float64)
        h = transfer.convection_w_m2_k(t, t, speed_m_s, self.across_m, self.across_m, pressure_pa)
        k_m = transfer.mass_transfer_m_s(h, t, pressure_pa)
        return self.area_m2 * k_m, vapour_density_kg_m3(t, 1.0)


def people_loads(number: Values) -> tuple[Array, Array]:
    """Water in kg/s and sensible heat in W of so many people at light work."""
    there = np.asarray(number, np.float64)
    return there * PERSON_KG_S, there * PERSON_W
