"""Noisy, drifting air: the service's solver against SciPy's BDF on the model written a second time.

Air as sensors report it: every five minutes, with noise. Tolerance 1 % on hours until ready and until dry.
"""

from __future__ import annotations

import numpy as np
import pytest

from service.drying.shell import CELLS_PER_COAT, Coat, Parameters, Pocket, ZoneShape
from service.drying.solver import advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState
from tests.physics.second_model import second_opinion

HOUR_S = 3600.0
DAY_S = 24 * HOUR_S
FACE = ZoneShape(0.4, 0.3)
HOLE = ZoneShape(0.4, 0.3, Pocket(0.08, 0.04))
SLOT = ZoneShape(0.2, 0.04, Pocket(0.06, 0.02, round_hole=False))
ODD_COATS = (Coat(0.6e-3, porosity=0.22), Coat(1.1e-3), Coat(1.6e-3, 0.33, 1500.0))
SEVERAL = {
    "one coat": (FACE, (Coat(0.6e-3),)),
    "six coats": (FACE, (Coat(1.1e-3),) * 6),
    "unlike coats on a bar": (ZoneShape(0.2, 0.04), ODD_COATS),
    "round hole": (HOLE, (Coat(1.1e-3),) * 3),
    "slot": (SLOT, (Coat(0.6e-3), Coat(1.1e-3))),
}


def noisy_room(seed: int) -> AirSeries:
    """A day of five-minute readings (0.2 K and 2 points of noise) with a daily swing and a fan from hour 5 to 9."""
    draw = np.random.default_rng(seed)
    time_s = np.arange(0.0, DAY_S + 1.0, 300.0)
    day = np.sin(2 * np.pi * time_s / DAY_S)
    return AirSeries(
        time_s,
        292.0 + 3.0 * day + draw.normal(0.0, 0.2, time_s.size),
        0.5 - 0.12 * day + draw.normal(0.0, 0.02, time_s.size),
        np.where((time_s > 5 * HOUR_S) & (time_s < 9 * HOUR_S), 1.2, 0.25),
        101000.0 + 300.0 * np.cumsum(draw.normal(0.0, 0.05, time_s.size)),
    )


def just_dipped(shape: ZoneShape, coats: tuple[Coat, ...]) -> ZoneState:
    under = np.full(CELLS_PER_COAT * (len(coats) - 1), 0.3)
    return ZoneState(shape, 0.0, 292.0, coats, np.concatenate([np.ones(CELLS_PER_COAT), under]))


@pytest.mark.parametrize("name", SEVERAL)
def test_noisy_air(name: str) -> None:
    zone, room, limits = just_dipped(*SEVERAL[name]), noisy_room(len(name)), Limits(0.35, 0.05)
    ours = advance([zone], [DAY_S], room, Parameters(), [limits])[0]
    theirs = second_opinion(zone, DAY_S, room, Parameters(), limits)
    assert ours.ready_s is not None
    assert ours.ready_s == pytest.approx(theirs.ready_s, rel=0.01)
    assert (ours.dry_s is None) == (theirs.dry_s is None)
    if ours.dry_s is not None:
        assert ours.dry_s == pytest.approx(theirs.dry_s, rel=0.01)
    assert ours.state.saturation == pytest.approx(theirs.saturation, abs=0.003)
    assert ours.state.surface_k == pytest.approx(theirs.surface_k, abs=0.1)


def test_every_multiplier_is_where_it_should_be() -> None:
    """A shell with all of the model's numbers moved: none of them may have been left out of the solver."""
    moved = Parameters(
        diffusivity_m2_s=6e-10,
        diffusivity_slope=2.0,
        activation_energy_j_mol=25e3,
        latent_heat_j_kg=2.5e6,
        shell_heat_j_kg_k=1000.0,
        wax_heat_j_m2_k=4000.0,
        emissivity=0.7,
        pocket_stirring=5.0,
        transfer_multiplier=1.4,
        diffusivity_multiplier=0.6,
        stirring_multiplier=0.7,
    )
    coats = (Coat(1.1e-3, diffusivity_multiplier=0.7), Coat(1.1e-3, diffusivity_multiplier=1.8))
    zone, room = just_dipped(HOLE, coats), noisy_room(7)
    ours = advance([zone], [DAY_S], room, moved, [Limits()])[0]
    theirs = second_opinion(zone, DAY_S, room, moved, Limits())
    assert ours.ready_s == pytest.approx(theirs.ready_s, rel=0.01)
    plain = advance([zone], [DAY_S], room, Parameters(), [Limits()])[0]
    assert ours.ready_s != pytest.approx(plain.ready_s, rel=0.05)
