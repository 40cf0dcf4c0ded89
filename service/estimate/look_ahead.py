"""Freshly dipped zones left alone: how long until a limit, and if never, which humidity would do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from service.drying.readiness import coat_needs_below_humidity, shell_needs_below_humidity
from service.drying.shell import Parameters
from service.drying.solver import Dried, advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState

NO_LIMIT = float("inf")
LONGEST_S = 120 * 86400.0
"""What takes longer than this is told as never."""
AFTER_THE_AIR_S = 3 * 86400.0
"""How long a shell that cannot get there is followed once the air has settled: its face is coldest by then."""
DRIER_BY = 0.08
"""How far under the highest humidity that would do the "it would take" is worked out (our choice)."""
DRIEST = 0.05


@dataclass(frozen=True, slots=True)
class TooDamp:
    """The air, as it ends, holds a limit up for ever. would_do_s: at `would_do_humidity`; None: over 120 days there."""

    air_humidity: float
    needs_below: float
    would_do_humidity: float
    would_do_s: float | None


@dataclass(frozen=True, slots=True)
class Wait:
    """How long a limit took, from the dip on, and how cold the face got until then.

    takes_s: None if never; `too_damp` then says why, or is None where it is only too slow.
    """

    takes_s: float | None
    coldest_k: float
    too_damp: TooDamp | None = None


def until_ready(
    laid: Sequence[ZoneState], air: AirSeries, parameters: Parameters, ready_saturation: float
) -> list[Wait]:
    """How long each zone needs until its newest coat is ready. All zones have the same coats."""
    needs = coat_needs_below_humidity(ready_saturation, laid[0].coats[-1], parameters.isotherm)
    return _waits(laid, air, parameters, Limits(ready_saturation, NO_LIMIT), needs)


def until_dry(
    laid: Sequence[ZoneState], air: AirSeries, parameters: Parameters, water_limit: float
) -> list[Wait]:
    """How long each zone needs until its whole shell is dry enough. All zones have the same coats."""
    needs = shell_needs_below_humidity(water_limit, laid[0].coats, parameters.isotherm)
    return _waits(laid, air, parameters, Limits(NO_LIMIT, water_limit), needs)


def _waits(
    laid: Sequence[ZoneState], air: AirSeries, parameters: Parameters, limits: Limits, needs_below: float
) -> list[Wait]:
    start_s = laid[0].time_s
    until_s = followed_until_s(start_s, air, needs_below)
    found = [Wait(_takes_s(d, start_s), d.coldest_k) for d in _leave(laid, until_s, air, parameters, limits)]
    if gets_there(air, needs_below) or all(wait.takes_s is not None for wait in found):
        return found
    return _explained(found, laid, air, parameters, limits, needs_below)


def gets_there(air: AirSeries, needs_below: float) -> bool:
    """Whether the air, as it ends, lets a shell come to a limit that needs a humidity below that."""
    return float(air.humidity[-1]) < needs_below


def followed_until_s(start_s: float, air: AirSeries, needs_below: float) -> float:
    """How far a shell is followed that is left alone from `start_s` on."""
    if gets_there(air, needs_below):
        return start_s + LONGEST_S
    return max(start_s, float(air.time_s[-1])) + AFTER_THE_AIR_S


def _explained(
    found: Sequence[Wait],
    laid: Sequence[ZoneState],
    air: AirSeries,
    parameters: Parameters,
    limits: Limits,
    needs_below: float,
) -> list[Wait]:
    """The waits again, those that never end with the humidity that would do."""
    would_do = max(needs_below - DRIER_BY, min(DRIEST, needs_below / 2.0))
    drier = AirSeries.constant(
        float(air.temperature_k[-1]), would_do, float(air.speed_m_s[-1]), float(air.pressure_pa[-1])
    )
    start_s, humidity = laid[0].time_s, float(air.humidity[-1])
    there = _leave(laid, start_s + LONGEST_S, drier, parameters, limits)
    return [
        wait
        if wait.takes_s is not None
        else Wait(None, wait.coldest_k, TooDamp(humidity, needs_below, would_do, _takes_s(d, start_s)))
        for wait, d in zip(found, there, strict=True)
    ]


def _leave(
    laid: Sequence[ZoneState], until_s: float, air: AirSeries, parameters: Parameters, limits: Limits
) -> list[Dried]:
    every = [limits] * len(laid)
    return advance(laid, [until_s] * len(laid), air, parameters, every, stop_when_dry=True)


def _takes_s(dried: Dried, start_s: float) -> float | None:
    if dried.ready_s is None or dried.dry_s is None:
        return None
    return max(dried.ready_s, dried.dry_s) - start_s
