"""Moulds for which the air to come is too damp ever to be ready, and what air would do."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

import numpy as np

from service.drying.readiness import coat_needs_below_humidity, shell_needs_below_humidity
from service.drying.shell import Parameters
from service.drying.weather import AirSeries
from service.room.estimate import FORECAST_S, ZoneEstimate, would_take_s
from service.room.progress import Progress, limits_after
from service.room.views import NotAtThisHumidity

DRIER_BY = 0.08
"""How far under the highest humidity that would do the "it would be ready in" is worked out (our choice)."""
DRIEST = 0.05

Waiting = tuple[Progress, list[ZoneEstimate]]


def too_damp(
    moulds: Sequence[Progress],
    zones: Mapping[int, Sequence[ZoneEstimate]],
    to_come: AirSeries,
    now_s: float,
    parameters: Parameters,
) -> dict[int, NotAtThisHumidity]:
    """By mould number. A mould is among them if a zone is not ready within the forecast and the air says why.

    Moulds that ask for the same air are worked out together: this is looked at every minute.
    """
    humidity = float(to_come.mean(np.array([now_s]), np.array([now_s + FORECAST_S])).humidity[0])
    by_need: dict[float, list[Waiting]] = defaultdict(list)
    for p in moulds:
        late = [zone for zone in zones.get(p.mould_id, ()) if _never(p, zone)]
        if late and p.ended is None:
            by_need[_needs_below(p, late[0], parameters)].append((p, late))
    found: dict[int, NotAtThisHumidity] = {}
    for needs, waiting in by_need.items():
        if humidity >= needs:
            found |= _explained(waiting, needs, humidity, to_come, now_s, parameters)
    return found


def _never(p: Progress, zone: ZoneEstimate) -> bool:
    return (zone.dry_s if p.for_dewax else zone.ready_s) is None


def _needs_below(p: Progress, zone: ZoneEstimate, parameters: Parameters) -> float:
    limits, coats = limits_after(p.recipe, p.coats_given), zone.state.coats
    if p.for_dewax:
        return shell_needs_below_humidity(limits.water_share, coats, parameters.isotherm)
    return coat_needs_below_humidity(limits.ready_saturation, coats[-1], parameters.isotherm)


def _explained(
    waiting: Sequence[Waiting],
    needs: float,
    humidity: float,
    to_come: AirSeries,
    now_s: float,
    parameters: Parameters,
) -> dict[int, NotAtThisHumidity]:
    would_do = max(needs - DRIER_BY, min(DRIEST, needs / 2.0))
    every = [(p, zone) for p, late in waiting for zone in late]
    limits = [limits_after(p.recipe, p.coats_given) for p, _ in every]
    try:
        took = would_take_s([zone for _, zone in every], to_come, now_s, would_do, limits, parameters)
    except FloatingPointError:  # what it would take is left unsaid: the estimate itself stands
        return {}
    longest: dict[int, float] = {}
    for (p, _), takes_s in zip(every, took, strict=True):
        longest[p.mould_id] = max(longest.get(p.mould_id, 0.0), float("inf") if takes_s is None else takes_s)
    return {
        mould_id: NotAtThisHumidity(humidity, needs, would_do, takes_s)
        for mould_id, takes_s in longest.items()
        if takes_s < float("inf")
    }
