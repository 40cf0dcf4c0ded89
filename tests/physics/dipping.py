"""A shell built by itself: every coat dipped the moment the one before is ready, or by the clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from service.drying.shell import Coat, Parameters, ZoneShape
from service.drying.solver import Dried, advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState, dip, hang

NEVER_S = 600.0 * 3600.0
IMMERSION_S = 15.0
READY_SATURATION = 0.35
WATER_SHARE = 0.02


@dataclass(frozen=True)
class Laid:
    """One coat: the zone just after its dip, hours until ready, and what became of it till then."""

    state: ZoneState
    ready_h: float
    until_ready: Dried


def dip_when_ready(
    shape: ZoneShape, coats: Sequence[Coat], air: AirSeries, parameters: Parameters | None = None
) -> list[Laid]:
    """The coats one after the other. Fails if one is never ready."""
    parameters = parameters or Parameters()
    zone = hang(shape, float(air.temperature_k[0]), 0.0)
    laid: list[Laid] = []
    for coat in coats:
        zone = dip(zone, coat, IMMERSION_S, parameters)
        ready_s = first_ready_s(zone, air, parameters)
        dried = dry(zone, ready_s, air, parameters)
        laid.append(Laid(zone, (ready_s - zone.time_s) / 3600.0, dried))
        zone = dried.state
    return laid


def dip_by_the_clock(
    shape: ZoneShape,
    coats: Sequence[Coat],
    air: AirSeries,
    every_s: float,
    parameters: Parameters | None = None,
) -> list[ZoneState]:
    """The zone at the end of each wait, just before the next dip."""
    parameters = parameters or Parameters()
    zone = hang(shape, float(air.temperature_k[0]), 0.0)
    waited: list[ZoneState] = []
    for coat in coats:
        zone = dip(zone, coat, IMMERSION_S, parameters)
        zone = dry(zone, zone.time_s + every_s, air, parameters).state
        waited.append(zone)
    return waited


def first_ready_s(zone: ZoneState, air: AirSeries, parameters: Parameters) -> float:
    """When the newest coat reaches its limit; the water share is met from the start, so that the run ends there."""
    limits = Limits(READY_SATURATION, water_share=10.0)
    dried = advance([zone], [zone.time_s + NEVER_S], air, parameters, [limits], stop_when_dry=True)[0]
    assert dried.ready_s is not None
    return dried.ready_s


def dry(zone: ZoneState, until_s: float, air: AirSeries, parameters: Parameters | None = None) -> Dried:
    return advance(
        [zone], [until_s], air, parameters or Parameters(), [Limits(READY_SATURATION, WATER_SHARE)]
    )[0]


def dry_h(zone: ZoneState, air: AirSeries, parameters: Parameters | None = None) -> float | None:
    """Hours from now until the whole shell is down to its water limit; None if it never is."""
    limits = Limits(READY_SATURATION, WATER_SHARE)
    end = zone.time_s + NEVER_S
    dried = advance([zone], [end], air, parameters or Parameters(), [limits], stop_when_dry=True)[0]
    return None if dried.dry_s is None else (dried.dry_s - zone.time_s) / 3600.0
