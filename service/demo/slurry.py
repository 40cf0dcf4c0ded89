"""The demo's slurry tanks: what a bench finds in each every morning, the same for the same tank and day. Pure."""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta

from service.local_time import local, start_of_day, working_hours
from service.records.facts import TankCheckBody
from service.records.shop_facts import Site

NEW_EVERY = 12
"""Days that a slurry lasts here before it is made anew (assumed)."""
FLOW_S = {"white": 26.0}
USUAL_FLOW_S = 15.0
DENSITY_KG_M3 = {"white": 2650.0}
USUAL_DENSITY_KG_M3 = 1640.0
"""Flow cup and density of a zircon and of a fused-silica slurry as small shops run them (assumed)."""
WARMEST_K = 294.4


def slurry(tank: str, day: date) -> TankCheckBody:
    """It thickens with its age; what the air took is made up, and a slurry grown old is made anew."""
    age, chance = _age(tank, day), _chance(tank, day)
    fresh, thicker = age == 0, 0.01 * age
    flow_s = FLOW_S.get(tank, USUAL_FLOW_S) * (1 + thicker + 0.03 * (chance - 0.5))
    density = DENSITY_KG_M3.get(tank, USUAL_DENSITY_KG_M3) * (1 + 0.2 * thicker)
    return TankCheckBody(
        tank=tank,
        flow_s=round(flow_s * 2) / 2,
        temperature_k=round(WARMEST_K - 1.5 * chance, 2),
        density_kg_m3=round(density, -1),
        ph=round(9.9 - 0.04 * age - 0.1 * chance, 1),
        water_added_kg=None if fresh else round(0.2 + 0.4 * chance, 1),
        made_new=fresh,
        text="Emptied, scrubbed and made up anew." if fresh else "",
    )


def _age(tank: str, day: date) -> int:
    """Days since it was made."""
    return (day.toordinal() + zlib.crc32(tank.encode())) % NEW_EVERY


def _chance(tank: str, day: date) -> float:
    return zlib.crc32(f"{tank} {day}".encode()) % 1000 / 1000


def checked_at(tank: str, day: date, site: Site) -> datetime:
    """The first thing done in the morning, one tank after the other."""
    begins = start_of_day(day, site)
    opens, _ = working_hours(begins, begins + timedelta(hours=26), site)[0]
    return opens + timedelta(minutes=8 + round(20 * _chance(f"{tank} at", day)))


def mornings(
    tanks: Iterable[str], since: datetime, until: datetime, site: Site
) -> Iterator[tuple[datetime, str]]:
    """When each tank is checked from `since` to `until`, in order of time."""
    first, last = local(since, site).date(), local(until, site).date()
    days = [first + timedelta(days=i) for i in range((last - first).days + 1)]
    every = sorted((checked_at(tank, day, site), tank) for day in days for tank in tanks)
    return ((at, tank) for at, tank in every if since <= at <= until)
