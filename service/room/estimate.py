"""Every zone of every mould: how wet it is now, and when it will be ready. The one place that keeps wet states."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from service.drying.history import Life, Stretch, play_back
from service.drying.shell import Parameters
from service.drying.solver import Dried, advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState
from service.room.progress import Progress, limits_after, lives

FORECAST_S = 7 * 86400.0
"""How far ahead is looked for the final dry: a deep pocket takes days."""
NEXT_DIP_S = 3 * 86400.0
"""How far ahead is looked for the next dip."""


@dataclass(frozen=True)
class ZoneEstimate:
    """One zone now, and what the forecast says of it. Times are seconds since 1970, None: not within the forecast."""

    state: ZoneState
    ready_s: float | None
    dry_s: float | None


@dataclass(frozen=True)
class _Kept:
    """Where a mould's zones were at the last look, and the dips and air limits that led there."""

    lives: tuple[Life, ...]
    zones: tuple[ZoneEstimate, ...]


class Estimator:
    """Keeps each mould's wet states and carries them on; starts over from the facts when they changed."""

    def __init__(self, parameters: Parameters) -> None:
        self.parameters = parameters
        self._kept: dict[int, _Kept] = {}

    def forget(self, mould_id: int) -> None:
        """Start this mould over from its facts at the next look (its recorded air changed)."""
        self._kept.pop(mould_id, None)

    def look(
        self, moulds: Sequence[Progress], air: AirSeries, to_come: AirSeries, now_s: float
    ) -> dict[int, tuple[ZoneEstimate, ...]]:
        """The zones of all these moulds of one room, at `now_s`, with their forecasts. Moulds without a coat: none."""
        wet = [p for p in moulds if p.dips and p.dips[-1].at.timestamp() <= now_s]
        self._carry_on(wet, air, now_s)
        known = [(p.mould_id, zone) for p in wet for zone in self._kept[p.mould_id].zones]
        limits = [limits_after(p.recipe, p.coats_given) for p in wet for _ in p.body.zones]
        states = [zone.state for _, zone in known]
        ends = [now_s + (FORECAST_S if _for_dewax(limit) else NEXT_DIP_S) for limit in limits]
        ahead = advance(states, ends, to_come, self.parameters, limits, True)
        found: dict[int, list[ZoneEstimate]] = {p.mould_id: [] for p in wet}
        for (mould_id, zone), dried in zip(known, ahead, strict=True):
            found[mould_id].append(replace(_first_of(zone, dried), state=zone.state))
        return {mould_id: tuple(zones) for mould_id, zones in found.items()}

    def _carry_on(self, wet: Sequence[Progress], air: AirSeries, now_s: float) -> None:
        known = [p for p in wet if self._still_holds(p, now_s)]
        fresh = [p for p in wet if p not in known]
        self._advance(known, air, now_s)
        self._start_over(fresh, air, now_s)

    def _still_holds(self, p: Progress, now_s: float) -> bool:
        kept = self._kept.get(p.mould_id)
        if kept is None or any(zone.state.time_s > now_s for zone in kept.zones):
            return False
        return [_undated(life) for life in kept.lives] == [_undated(life) for life in lives(p, now_s)]

    def _advance(self, known: Sequence[Progress], air: AirSeries, now_s: float) -> None:
        zones = [(p, zone) for p in known for zone in self._kept[p.mould_id].zones]
        limits = [limits_after(p.recipe, p.coats_given) for p, _ in zones]
        dried = advance([z.state for _, z in zones], [now_s] * len(zones), air, self.parameters, limits)
        moved = iter([_first_of(zone, d) for (_, zone), d in zip(zones, dried, strict=True)])
        for p in known:
            kept = self._kept[p.mould_id]
            self._kept[p.mould_id] = replace(kept, zones=tuple(next(moved) for _ in kept.zones))

    def _start_over(self, fresh: Sequence[Progress], air: AirSeries, now_s: float) -> None:
        every = [life for p in fresh for life in lives(p, now_s)]
        played = iter(play_back(every, air, self.parameters))
        for p in fresh:
            own = tuple(lives(p, now_s))
            zones = tuple(_last(next(played)) for _ in own)
            self._kept[p.mould_id] = _Kept(own, zones)

    def snapshot(self, mould_id: int) -> dict[str, Any] | None:
        """A mould's wet states as plain data, to be kept over a restart; None if there are none."""
        kept = self._kept.get(mould_id)
        if kept is None:
            return None
        return {"parameters": repr(self.parameters), "zones": [_packed(zone) for zone in kept.zones]}

    def restore(self, p: Progress, kept: Mapping[str, Any]) -> None:
        """Take a snapshot back, unless it was made with other parameters or for other zones or coats."""
        own = tuple(lives(p, 0.0))
        zones = kept.get("zones", [])
        if kept.get("parameters") != repr(self.parameters) or len(zones) != len(own) or not p.dips:
            return
        unpacked = tuple(
            _unpacked(zone, life, self.parameters) for zone, life in zip(zones, own, strict=True)
        )
        if all(zone is not None for zone in unpacked):
            self._kept[p.mould_id] = _Kept(own, tuple(zone for zone in unpacked if zone is not None))


def play(p: Progress, air: AirSeries, parameters: Parameters, until_s: float) -> list[tuple[Stretch, ...]]:
    """A mould's whole life, zone by zone, for its audit."""
    return play_back(lives(p, until_s), air, parameters)


def slowest(zones: Iterable[ZoneEstimate], dewax: bool) -> int:
    """Which zone is waited for: the last to be ready (or dry); if several never are, the wettest of them."""

    def key(item: tuple[int, ZoneEstimate]) -> tuple[float, float]:
        zone = item[1]
        when = zone.dry_s if dewax else zone.ready_s
        wet = zone.state.water_share if dewax else zone.state.newest_saturation
        return (float("inf") if when is None else when, wet)

    return max(enumerate(zones), key=key)[0]


def would_take_s(
    states: Sequence[ZoneState],
    air: AirSeries,
    now_s: float,
    humidity: float,
    limits: Limits,
    parameters: Parameters,
) -> float | None:
    """How long the slowest of `states` would take in today's air at another humidity; None: longer than looked."""
    here = air.at(np.array([now_s]))
    drier = AirSeries.constant(
        float(here.temperature_k[0]), humidity, float(here.speed_m_s[0]), float(here.pressure_pa[0])
    )
    ends = [state.time_s + FORECAST_S for state in states]
    dried = advance(states, ends, drier, parameters, [limits] * len(states), True)
    times = [None if d.ready_s is None or d.dry_s is None else max(d.ready_s, d.dry_s) for d in dried]
    if any(t is None for t in times):
        return None
    return max(t - now_s for t in times if t is not None)


def _for_dewax(limits: Limits) -> bool:
    return bool(np.isfinite(limits.water_share))


def _undated(life: Life) -> Life:
    return replace(life, until_s=0.0)


def _first_of(zone: ZoneEstimate, dried: Dried) -> ZoneEstimate:
    """Carry a zone on: the first crossing of a limit stays."""
    ready_s = zone.ready_s if zone.ready_s is not None else dried.ready_s
    dry_s = zone.dry_s if zone.dry_s is not None else dried.dry_s
    return ZoneEstimate(dried.state, ready_s, dry_s)


def _last(stretches: tuple[Stretch, ...]) -> ZoneEstimate:
    dried = stretches[-1].dried
    return ZoneEstimate(dried.state, dried.ready_s, dried.dry_s)


def _packed(zone: ZoneEstimate) -> dict[str, Any]:
    state = zone.state
    return {
        "time_s": state.time_s,
        "surface_k": state.surface_k,
        "saturation": state.saturation.tolist(),
        "evaporated_kg_m2": state.evaporated_kg_m2,
        "ready_s": zone.ready_s,
        "dry_s": zone.dry_s,
    }


def _unpacked(packed: Mapping[str, Any], life: Life, parameters: Parameters) -> ZoneEstimate | None:
    coats = tuple(
        replace(dip.coat, thickness_m=dip.coat.thickness_m * parameters.thickness_multiplier)
        for dip in life.dips
    )
    saturation = np.array(packed["saturation"], float)
    if saturation.size == 0 or saturation.size % len(coats):
        return None
    state = ZoneState(
        life.shape, packed["time_s"], packed["surface_k"], coats, saturation, packed["evaporated_kg_m2"]
    )
    return ZoneEstimate(state, packed["ready_s"], packed["dry_s"])
