"""Zones and air for the tests of the drying computation, plain ones and any."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

from service.drying.batch import Shells, padded, shells_of
from service.drying.shell import CELLS_PER_COAT, Coat, Parameters, Pocket, ZoneShape
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState, dip, hang

Array = NDArray[np.float64]

ZERO_K = 273.15
PRESSURE_PA = 101325.0
PARAMETERS = Parameters()
BACKUP = Coat(1.1e-3)
PRIME = Coat(0.6e-3)
FACE = ZoneShape(0.4, 0.3)
HOLE = ZoneShape(0.4, 0.3, Pocket(0.08, 0.04))
SLOT = ZoneShape(0.4, 0.3, Pocket(0.12, 0.03, round_hole=False))
ROOM = AirSeries.constant(294.15, 0.5, 0.2, PRESSURE_PA)
LIMITS = Limits()


def wet(
    shape: ZoneShape = FACE, coats: Sequence[Coat] = (BACKUP,), time_s: float = 0.0, air_k: float = 294.15
) -> ZoneState:
    """All coats laid one over the other without a wait: full to the wax."""
    zone = hang(shape, air_k, time_s)
    for coat in coats:
        zone = dip(zone, coat, 15.0, PARAMETERS)
    return zone


def swinging(hours: float, step_s: float = 1800.0, humidity: float = 0.55, swing: float = 0.2) -> AirSeries:
    """A shed's air: warmest and driest in the afternoon."""
    t = np.arange(0.0, hours * 3600.0 + step_s, step_s)
    day = np.sin(2.0 * np.pi * t / 86400.0)
    return AirSeries(
        t,
        290.0 + 4.0 * day,
        np.clip(humidity - swing * day, 0.0, 1.0),
        np.full(t.size, 0.3),
        np.full(t.size, PRESSURE_PA),
    )


SHAPES = st.builds(
    ZoneShape,
    height_m=st.floats(0.03, 1.2),
    width_m=st.floats(0.02, 1.0),
    pocket=st.none()
    | st.builds(
        Pocket, depth_m=st.floats(0.01, 0.3), width_m=st.floats(0.01, 0.15), round_hole=st.booleans()
    ),
)
COATS = st.builds(
    Coat,
    thickness_m=st.floats(0.2e-3, 3e-3),
    porosity=st.floats(0.1, 0.4),
    dry_density_kg_m3=st.floats(1200.0, 2600.0),
)


@st.composite
def airs(draw: st.DrawFn, hours: float = 24.0, humidity: st.SearchStrategy[float] | None = None) -> AirSeries:
    """Any air a room may see in `hours`, from bone dry to fog, in jumps as wild as a door left open makes."""
    points = draw(st.integers(1, 12))
    t = np.linspace(0.0, hours * 3600.0, points)
    columns = [
        draw(st.lists(values, min_size=points, max_size=points))
        for values in (
            st.floats(275.0, 308.0),
            humidity or st.floats(0.0, 1.0),
            st.floats(0.0, 3.0),
            st.floats(80e3, 105e3),
        )
    ]
    return AirSeries(t, *(np.array(column) for column in columns))


def at(state: ZoneState, saturation: float | Array) -> ZoneState:
    return replace(state, saturation=np.broadcast_to(np.asarray(saturation, float), state.saturation.shape))


def three_zones() -> list[ZoneState]:
    """Of different shape, coats and stuff."""
    loose = Coat(1.4e-3, 0.35, 1400.0)
    return [
        at(wet(FACE, [PRIME, BACKUP]), np.linspace(0.2, 0.9, 2 * CELLS_PER_COAT)),
        at(wet(HOLE, [PRIME, PRIME, BACKUP, loose]), np.linspace(0.1, 0.6, 4 * CELLS_PER_COAT)),
        at(wet(SLOT, [loose]), np.linspace(0.3, 0.4, CELLS_PER_COAT)),
    ]


def batch(zones: Sequence[ZoneState], parameters: Parameters = PARAMETERS) -> tuple[Shells, Array]:
    return shells_of(zones, parameters), padded([zone.saturation for zone in zones], 0.0)
