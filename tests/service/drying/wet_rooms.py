"""A shell room with moulds in it, for the tests of both together."""

from __future__ import annotations

import numpy as np

from service.drying.air import CP_J_KG_K
from service.drying.room_balance import Inside, Room, dry_air_kg, inside_of
from service.drying.solver import advance
from service.drying.weather import AirSeries
from service.drying.wet_room import Running, WetRoom, WetZone
from service.drying.zone import Limits, ZoneState, dip
from tests.service.drying.batches import BACKUP, FACE, PARAMETERS, PRESSURE_PA, ZERO_K

HOUR_S = 3600.0
VOLUME_M3 = 145.8
NEXT_DIP = Limits(0.35, np.inf)


def air(celsius: float, humidity: float) -> Inside:
    return inside_of(np.array([celsius + ZERO_K]), np.array([humidity]), PRESSURE_PA)


AIR_KG = float(dry_air_kg(VOLUME_M3, air(20.0, 0.5), PRESSURE_PA)[0])


def room(*changes_an_hour: float, loss_w_k: float = 60.0, times_air: float = 6.0) -> Room:
    many = len(changes_an_hour)
    return Room(
        VOLUME_M3,
        AIR_KG,
        np.array(changes_an_hour) / HOUR_S,
        np.full(many, loss_w_k),
        np.full(many, times_air * AIR_KG * CP_J_KG_K),
    )


def forecast(days: float = 4.0, swing: float = 0.05) -> AirSeries:
    """Half-hours about 21 degC and 55 %."""
    t = np.arange(0.0, days * 86400.0 + 1.0, 1800.0)
    day = np.sin(2.0 * np.pi * t / 86400.0)
    return AirSeries(
        t, 294.15 + 10.0 * swing * day, 0.55 + swing * day, np.full(t.size, 0.3), np.full(t.size, PRESSURE_PA)
    )


def dipped(
    many: int, hours_ago: float = 0.0, coats: int = 4, limits: Limits = NEXT_DIP
) -> tuple[WetZone, ...]:
    """Moulds of one zone each whose newest coat went on so long ago, in the air that the forecast begins with."""
    under = ZoneState(
        FACE, -hours_ago * HOUR_S, 294.15, (BACKUP,) * (coats - 1), np.full(4 * (coats - 1), 0.3)
    )
    state = dip(under, BACKUP, 15.0, PARAMETERS)
    if hours_ago:
        state = advance([state], [0.0], forecast(), PARAMETERS, [limits])[0].state
    return tuple(WetZone(state, 0.3, limits, PARAMETERS) for _ in range(many))


def at_work(*changes_an_hour: float, moulds: int = 6) -> WetRoom:
    """A dozen kilograms of wet shell in a shed: what hangs there was dipped three hours ago."""
    changes = changes_an_hour or (0.8,)
    zones = dipped(moulds, 3.0)
    return WetRoom(room(*changes), np.ones(len(changes)), air(8.0, 0.8), forecast(), zones, Running(0.0))
