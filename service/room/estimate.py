"""Every zone of every mould: how wet it is now, and when it will be ready. The one place that keeps wet states."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from service.drying.history import AS_THE_MODEL, Life, Multipliers, Stretch, play_back
from service.drying.shell import Parameters
from service.drying.solver import Dried, advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState
from service.errors import Unavailable
from service.room.own_numbers import Own
from service.room.progress import Progress, limits_after, lives
from service.voice import say

FORECAST_S = 7 * 86400.0
"""How far ahead is looked for the final dry: a deep pocket takes days."""
NEXT_DIP_S = 3 * 86400.0
"""How far ahead is looked for the next dip."""
CLOCK_CREEPS_S = 60.0
"""A clock set back by no more than this is waited for; by more, a mould is started over."""
FORECAST_HOLDS = 0.1
FORECAST_HOLDS_LEAST_S, FORECAST_HOLDS_MOST_S = 600.0, 3600.0
"""A forecast holds for a tenth of the time it foretells, between ten minutes and an hour ..."""
NEAR_S = 1800.0
"""... and at every look once its moment is this near."""
DRIER_S = 30 * 86400.0
"""How far ahead is looked in drier air than there is."""


@dataclass(frozen=True)
class ZoneEstimate:
    """One zone now. Times are seconds since 1970: since when it has been at its limit, or when by the forecast.

    None: not within the forecast; among kept states, not yet. multipliers: what of its own it dries with.
    """

    state: ZoneState
    ready_s: float | None
    dry_s: float | None
    multipliers: Multipliers = AS_THE_MODEL


@dataclass(frozen=True)
class Ahead:
    """When a zone will be at its limits by the forecast; None: not within it."""

    ready_s: float | None
    dry_s: float | None


@dataclass(frozen=True)
class _Kept:
    """Where a mould's zones were at the last look, and the dips that led there.

    made_of: the facts and numbers these were last found to follow from.
    """

    lives: tuple[Life, ...]
    zones: tuple[ZoneEstimate, ...]
    ahead: tuple[Ahead, ...] = ()
    ahead_made_s: float = -math.inf
    ahead_in: Hashable = None
    made_of: tuple[Progress, Own] | None = None

    def needs_forecast(self, now_s: float, which_air: Hashable = None) -> bool:
        """Whether the forecast is old, of other air, or so near its end that it should be made anew at each look."""
        if self.ahead_in != which_air:
            return True
        awaited = [
            t for zone, ahead in zip(self.zones, self.ahead, strict=False) for t in _awaited(zone, ahead)
        ]
        nearest_s = min(awaited, default=math.inf) - now_s
        return nearest_s < NEAR_S or not 0.0 <= now_s - self.ahead_made_s < holds_s(nearest_s)


@dataclass(frozen=True)
class _Around:
    """What a look is made with; see `Estimator.look`."""

    air: AirSeries
    to_come: AirSeries
    now_s: float
    moved: Mapping[int, AirSeries]
    which_air: Hashable
    own: Mapping[int, Own]


class Estimator:
    """Keeps each mould's wet states and carries them on; starts over from the facts when they changed.

    unworkable: the moulds whose numbers could not be worked with at the last look; they do not stop the others.
    """

    def __init__(self, parameters: Parameters) -> None:
        self.parameters = parameters
        self._kept: dict[int, _Kept] = {}
        self.unworkable: set[int] = set()

    @property
    def kept(self) -> set[int]:
        """The moulds whose wet states are kept."""
        return set(self._kept)

    def forget(self, mould_id: int) -> None:
        """Start this mould over from its facts at the next look (its recorded air changed)."""
        self._kept.pop(mould_id, None)

    def look(
        self,
        moulds: Sequence[Progress],
        air: AirSeries,
        to_come: AirSeries,
        now_s: float,
        moved: Mapping[int, AirSeries] | None = None,
        which_air: Hashable = None,
        own: Mapping[int, Own] | None = None,
    ) -> dict[int, tuple[ZoneEstimate, ...]]:
        """The zones of all these moulds of one room, at `now_s`, with their forecasts. Moulds without a coat: none.

        moved: of moulds that hung elsewhere before, by number, the air they hung in from their start to now.
        which_air: what air this is; in another than at the last look, forecasts are made anew.
        own: of moulds that have numbers of their own, by number; a mould starts over with other ones than before.
        """
        wet = [p for p in moulds if p.dips and p.dips[-1].at.timestamp() <= now_s]
        around = _Around(air, to_come, now_s, moved or {}, which_air, own or {})
        together = [p for p in wet if p.mould_id not in self.unworkable]
        alone = [p for p in wet if p.mould_id in self.unworkable]
        for p in alone if self._work_out(together, around) else wet:
            self.unworkable.discard(p.mould_id)
            if not self._work_out([p], around):
                self.unworkable.add(p.mould_id)
        return {
            p.mould_id: _forecast_zones(self._kept[p.mould_id])
            for p in wet
            if p.mould_id not in self.unworkable
        }

    def _work_out(self, moulds: Sequence[Progress], around: _Around) -> bool:
        """Carry these on and forecast them; false if the numbers of one of them cannot be worked with."""
        try:
            self._carry_on(moulds, around)
            due = [p for p in moulds if self._kept[p.mould_id].needs_forecast(around.now_s, around.which_air)]
            self._look_ahead(due, around.to_come, around.now_s, around.which_air)
        except FloatingPointError:
            return False
        return True

    def _look_ahead(
        self, moulds: Sequence[Progress], to_come: AirSeries, now_s: float, which_air: Hashable
    ) -> None:
        """Forecast these moulds, all their zones together."""
        zones = [zone for p in moulds for zone in self._kept[p.mould_id].zones]
        states, numbers = [zone.state for zone in zones], [z.multipliers.of(self.parameters) for z in zones]
        limits = [limits_after(p.recipe, p.coats_given) for p in moulds for _ in p.body.zones]
        ends = [
            max(now_s, state.time_s) + horizon_s(limit) for state, limit in zip(states, limits, strict=True)
        ]
        dried = iter(advance(states, ends, to_come, numbers, limits, True))
        for p in moulds:
            kept = self._kept[p.mould_id]
            found = [next(dried) for _ in kept.zones]
            ahead = tuple(Ahead(d.ready_s, d.dry_s) for d in found)
            self._kept[p.mould_id] = replace(kept, ahead=ahead, ahead_made_s=now_s, ahead_in=which_air)

    def _carry_on(self, wet: Sequence[Progress], around: _Around) -> None:
        known = [p for p in wet if self._still_holds(p, around)]
        known_ids = {p.mould_id for p in known}
        self._advance(known, around)
        fresh = [p for p in wet if p.mould_id not in known_ids]
        self._start_over([p for p in fresh if p.mould_id not in around.moved], around.air, around)
        for p in fresh:
            if p.mould_id in around.moved:
                self._start_over([p], around.moved[p.mould_id], around)

    def _still_holds(self, p: Progress, around: _Around) -> bool:
        kept, own = self._kept.get(p.mould_id), around.own.get(p.mould_id, ())
        if kept is None or any(zone.state.time_s > around.now_s + CLOCK_CREEPS_S for zone in kept.zones):
            return False
        if kept.made_of is not None and kept.made_of[0] is p and kept.made_of[1] is own:
            return True
        same = [_undated(life) for life in kept.lives] == [_undated(life) for life in lives(p, 0.0, own)]
        if same:
            self._kept[p.mould_id] = replace(kept, made_of=(p, own))
        return same

    def _advance(self, known: Sequence[Progress], around: _Around) -> None:
        zones = [(p, zone) for p in known for zone in self._kept[p.mould_id].zones]
        limits = [limits_after(p.recipe, p.coats_given) for p, _ in zones]
        ends = [max(around.now_s, zone.state.time_s) for _, zone in zones]
        numbers = [zone.multipliers.of(self.parameters) for _, zone in zones]
        dried = advance([zone.state for _, zone in zones], ends, around.air, numbers, limits)
        moved = iter([_carried_on(zone, d) for (_, zone), d in zip(zones, dried, strict=True)])
        for p in known:
            kept = self._kept[p.mould_id]
            self._kept[p.mould_id] = replace(kept, zones=tuple(next(moved) for _ in kept.zones))

    def _start_over(self, fresh: Sequence[Progress], air: AirSeries, around: _Around) -> None:
        own = {p.mould_id: lives(p, around.now_s, around.own.get(p.mould_id, ())) for p in fresh}
        played = iter(play_back([life for each in own.values() for life in each], air, self.parameters))
        for mould_id, each in own.items():
            zones = tuple(_last(next(played)) for _ in each)
            self._kept[mould_id] = _Kept(tuple(each), zones)

    def snapshot(self, mould_id: int) -> dict[str, Any] | None:
        """A mould's wet states as plain data, to be kept over a restart; None if there are none."""
        kept = self._kept.get(mould_id)
        if kept is None:
            return None
        return {"made_from": self._made_from(kept.lives), "zones": [_packed(zone) for zone in kept.zones]}

    def restore(self, p: Progress, kept: Mapping[str, Any], own: Own = ()) -> None:
        """Take a snapshot back, unless it was made with other numbers or from other zones or coats."""
        undated = tuple(_undated(life) for life in lives(p, 0.0, own))
        if p.dips and kept.get("made_from") == self._made_from(undated):
            zones = [
                _unpacked(z, life, self.parameters) for z, life in zip(kept["zones"], undated, strict=True)
            ]
            self._kept[p.mould_id] = _Kept(undated, tuple(zones))

    def _made_from(self, own: Sequence[Life]) -> str:
        said = repr((self.parameters, [_undated(life) for life in own]))
        return hashlib.sha256(said.encode()).hexdigest()


def play(
    p: Progress, air: AirSeries, parameters: Parameters, until_s: float, own: Own = ()
) -> list[tuple[Stretch, ...]]:
    """A mould's whole life, zone by zone, for its audit."""
    with numbers_told():
        return play_back(lives(p, until_s, own), air, parameters)


@contextmanager
def numbers_told() -> Iterator[None]:
    """What is asked of one mould alone is refused in words where its numbers cannot be worked with."""
    try:
        yield
    except FloatingPointError as error:
        raise Unavailable(
            "drying_numbers",
            say("With its numbers the drying of this mould cannot be worked out."),
            say(
                "Look whether its sizes and its recipe are right; if no mould can be worked out, look into "
                "drying.toml."
            ),
        ) from error


def slowest(zones: Iterable[ZoneEstimate], dewax: bool) -> int:
    """Which zone is waited for: the last to be ready (or dry); if several never are, the wettest of them."""

    def key(item: tuple[int, ZoneEstimate]) -> tuple[float, float]:
        zone = item[1]
        when = zone.dry_s if dewax else zone.ready_s
        wet = zone.state.water_share if dewax else zone.state.newest_saturation
        return (float("inf") if when is None else when, wet)

    return max(enumerate(zones), key=key)[0]


def dry_enough_s(p: Progress, zones: Sequence[ZoneEstimate]) -> float | None:
    """When the slowest zone is at what is waited for; None: not as far as is looked ahead."""
    times = [zone.dry_s if p.for_dewax else zone.ready_s for zone in zones]
    known = [at_s for at_s in times if at_s is not None]
    return max(known) if zones and len(known) == len(times) else None


def would_take_s(
    zones: Sequence[ZoneEstimate],
    air: AirSeries,
    now_s: float,
    humidity: float,
    limits: Sequence[Limits],
    parameters: Parameters,
) -> list[float | None]:
    """How long each zone would take in today's air at another humidity; None: longer than looked."""
    here = air.at(np.array([now_s]))
    drier = AirSeries.constant(
        float(here.temperature_k[0]), humidity, float(here.speed_m_s[0]), float(here.pressure_pa[0])
    )
    states = [zone.state for zone in zones]
    numbers = [zone.multipliers.of(parameters) for zone in zones]
    dried = advance(states, [now_s + DRIER_S] * len(states), drier, numbers, limits, True)
    return [None if d.ready_s is None or d.dry_s is None else max(d.ready_s, d.dry_s) - now_s for d in dried]


def holds_s(nearest_s: float) -> float:
    """How long a forecast holds that foretells so much time."""
    return min(max(nearest_s * FORECAST_HOLDS, FORECAST_HOLDS_LEAST_S), FORECAST_HOLDS_MOST_S)


def horizon_s(limits: Limits) -> float:
    """How far ahead is looked for what is waited for."""
    return FORECAST_S if _for_dewax(limits) else NEXT_DIP_S


def _for_dewax(limits: Limits) -> bool:
    return bool(np.isfinite(limits.water_share))


def _undated(life: Life) -> Life:
    return replace(life, until_s=0.0)


def _forecast_zones(kept: _Kept) -> tuple[ZoneEstimate, ...]:
    return tuple(_with_forecast(zone, ahead) for zone, ahead in zip(kept.zones, kept.ahead, strict=True))


def _with_forecast(zone: ZoneEstimate, ahead: Ahead) -> ZoneEstimate:
    """What is reached already stays so; the rest is as forecast."""
    return replace(
        zone,
        ready_s=ahead.ready_s if zone.ready_s is None else zone.ready_s,
        dry_s=ahead.dry_s if zone.dry_s is None else zone.dry_s,
    )


def _awaited(zone: ZoneEstimate, ahead: Ahead) -> list[float]:
    """The forecast moments that have not come yet."""
    pairs = ((zone.ready_s, ahead.ready_s), (zone.dry_s, ahead.dry_s))
    return [forecast for reached, forecast in pairs if reached is None and forecast is not None]


def _carried_on(zone: ZoneEstimate, dried: Dried) -> ZoneEstimate:
    start_s = zone.state.time_s
    return replace(
        zone,
        state=dried.state,
        ready_s=_since(zone.ready_s, dried.ready_s, start_s),
        dry_s=_since(zone.dry_s, dried.dry_s, start_s),
    )


def _since(before: float | None, found: float | None, start_s: float) -> float | None:
    """Kept all the way from `start_s`, a limit has been kept since before."""
    return before if before is not None and found == start_s else found


def _last(stretches: tuple[Stretch, ...]) -> ZoneEstimate:
    dried = stretches[-1].dried
    return ZoneEstimate(dried.state, dried.ready_s, dried.dry_s, stretches[-1].dip.multipliers)


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


def _unpacked(packed: Mapping[str, Any], life: Life, parameters: Parameters) -> ZoneEstimate:
    coats = tuple(
        replace(dip.coat, thickness_m=dip.coat.thickness_m * parameters.thickness_multiplier)
        for dip in life.dips
    )
    saturation = np.array(packed["saturation"], float)
    state = ZoneState(
        life.shape, packed["time_s"], packed["surface_k"], coats, saturation, packed["evaporated_kg_m2"]
    )
    return ZoneEstimate(state, packed["ready_s"], packed["dry_s"], life.dips[-1].multipliers)
