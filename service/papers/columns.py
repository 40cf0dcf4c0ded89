"""Column heads with the unit in them, and the numbers under them, in the units the shop likes. Pure."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache

from service.local_time import local, zone_of
from service.records.shop_facts import Site
from service.units import SHOWN, Dimension, Units, registry

SECONDS = len("2026-03-02 14:20:00")


def units_of(site: Site | None) -> Units:
    return site.units if site else Units.METRIC


def head(name: str, dimension: Dimension, site: Site | None) -> str:
    """``weight (kg)``."""
    return f"{name} ({SHOWN[dimension][units_of(site)][1]})"


def amount(value: float | None, dimension: Dimension, site: Site | None, digits: int) -> float | None:
    """A SI value in the unit of its column, rounded to so many decimals."""
    if value is None:
        return None
    factor, offset = _line(dimension, units_of(site))
    return round(value * factor + offset, digits)


@cache
def _line(dimension: Dimension, units: Units) -> tuple[float, float]:
    """How a unit follows from SI, worked out once: six million readings would wait a quarter of an hour for pint."""
    unit = SHOWN[dimension][units][0]
    low, high = (registry.Quantity(value, dimension.value).to(unit).magnitude for value in (0.0, 1000.0))
    return float(high - low) / 1000.0, float(low)


def clock_heads(name: str, site: Site | None) -> list[str]:
    """Two columns of an instant: on the shop's clock, and in UTC."""
    return [f"{name} ({zone_of(site)})", f"{name} (UTC)"]


def clock_cells(at: datetime | None, site: Site | None) -> list[str | None]:
    if at is None:
        return [None, None]
    return [there.isoformat(" ", "seconds")[:SECONDS] for there in (local(at, site), at.astimezone(UTC))]
