"""Every gram dipped on is either still in the shell or has left it: 1e-6 of what was dipped on."""

from __future__ import annotations

import numpy as np
import pytest

from service.drying.readiness import equilibrium_saturation
from service.drying.shell import Coat, Parameters, Pocket, ZoneShape
from service.drying.solver import advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState, dip, hang

SHAPES = [
    ZoneShape(0.2, 0.04),
    ZoneShape(0.4, 0.3),
    ZoneShape(0.4, 0.3, Pocket(0.12, 0.03, round_hole=False)),
]
COATS = [Coat(0.6e-3), Coat(0.6e-3, porosity=0.22), Coat(1.1e-3), Coat(1.4e-3, 0.33, 1500.0), Coat(0.3e-3)]
HOUR = 3600.0


def gusty_room(seed: int) -> AirSeries:
    """Three days of five-minute air with a daily swing, noise, and a damp night that wets shells again."""
    draw = np.random.default_rng(seed)
    time_s = np.arange(0.0, 72 * HOUR, 300.0)
    day = np.sin(2 * np.pi * time_s / (24 * HOUR))
    humidity = np.clip(0.55 - 0.2 * day + draw.normal(0.0, 0.04, time_s.size), 0.05, 1.0)
    humidity[(time_s > 40 * HOUR) & (time_s < 50 * HOUR)] = 0.98
    return AirSeries(
        time_s,
        291.0 + 4.0 * day + draw.normal(0.0, 0.3, time_s.size),
        humidity,
        np.abs(0.4 + draw.normal(0.0, 0.3, time_s.size)),
        np.full(time_s.size, 99e3),
    )


@pytest.mark.parametrize("seed", [1, 2])
def test_dips_and_gusts_leave_the_balance_closed(seed: int) -> None:
    room, parameters = gusty_room(seed), Parameters()
    zones = [hang(shape, 291.0, 0.0) for shape in SHAPES]
    dipped_on = np.zeros(len(zones))
    for turn, coat in enumerate(COATS):
        before = [held(zone) for zone in zones]
        zones = [dip(zone, coat, 15.0, parameters) for zone in zones]
        dipped_on += [held(zone) - was for zone, was in zip(zones, before, strict=True)]
        ends = [(turn + 1) * 14 * HOUR] * len(zones)
        zones = [d.state for d in advance(zones, ends, room, parameters, [Limits()] * len(zones))]
    for zone, water in zip(zones, dipped_on, strict=True):
        assert zone.evaporated_kg_m2 > 0.1 * water
        assert held(zone) + zone.evaporated_kg_m2 == pytest.approx(water, rel=1e-6)


def held(zone: ZoneState) -> float:
    return zone.water_kg_m2 if zone.coats else 0.0


def test_a_dry_shell_gains_what_the_damp_air_loses() -> None:
    shell = ZoneState(SHAPES[1], 0.0, 291.0, (COATS[2],) * 3, np.full(12, 0.02))
    damp = AirSeries.constant(291.0, 0.95, 0.4, 101325.0)
    later = advance([shell], [48 * HOUR], damp, Parameters(), [Limits()])[0].state
    assert later.evaporated_kg_m2 < 0.0
    gained = later.water_kg_m2 - shell.water_kg_m2
    assert gained == pytest.approx(-later.evaporated_kg_m2, rel=1e-6)


def test_left_alone_a_shell_ends_at_its_equilibrium() -> None:
    """From wet and from dry to the same water, the isotherm's: sorption has no memory here. 1e-3 of a saturation."""
    room = AirSeries.constant(294.15, 0.6, 0.6, 101325.0)
    starts = [ZoneState(SHAPES[0], 0.0, 294.15, (COATS[2],), np.full(4, s)) for s in (1.0, 0.0)]
    ends = [done.state for done in advance(starts, [300 * HOUR] * 2, room, Parameters(), [Limits()] * 2)]
    held_then = float(equilibrium_saturation(0.6, COATS[2], Parameters().isotherm))
    for end in ends:
        assert end.saturation == pytest.approx(np.full(4, held_then), abs=1e-3)
        assert end.surface_k == pytest.approx(294.15, abs=0.01)
