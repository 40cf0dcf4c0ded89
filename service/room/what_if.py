"""What if four more are hung at four, or the dehumidifier goes on? Reckoned from a room as it is; records nothing."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np

from service.drying.isotherm import Array
from service.drying.room_balance import Inside, humidity_of, inside_of
from service.drying.shell import CELLS_PER_COAT, Parameters
from service.drying.weather import AirSeries
from service.drying.wet_room import Running, Went, WetRoom, WetZone, dry_together
from service.drying.zone import ZoneState, dip
from service.errors import BadInput, NotFound
from service.learning.room import RoomBelief, Worlds, worlds
from service.records.facts import Zone, ZoneKind
from service.records.recipes import Recipe
from service.room.estimate import numbers_told
from service.room.keeper import InRoom
from service.room.progress import Progress, coat_of, limits_after, zone_shape
from service.room.room_fittings import RoomFittings, Runs, checked
from service.room.views import MouldNow
from service.room.waits import face_m2
from service.room.what_if_margin import Drying
from service.room.what_if_views import (
    AirThen,
    Assumed,
    Missing,
    MoreThen,
    MouldThen,
    WhatIf,
    WhatThen,
)
from service.voice import say

LOOKED_AHEAD = timedelta(hours=72)
LONGEST_S = 4.0
"""So long is reckoned at most: what was found by then is told."""
DRAWN_EVERY_S = 1800.0
USUALLY_MEASURED = 48
"""Half-hours of readings, a day's, before a room's own numbers count as learned (our choice)."""


@dataclass(frozen=True)
class Scene:
    """All that a question is answered from. others: moulds of any room that new ones may be like, by number.

    outside: the mean air outside over the day to come, where anybody knows it.
    """

    room: InRoom
    fittings: RoomFittings
    belief: RoomBelief
    now: datetime
    board: Mapping[int, MouldNow]
    others: Mapping[int, Progress]
    recipes: Callable[[str], Recipe]
    parameters: Parameters
    outside: AirSeries | None = None


def what_then(asked: WhatIf, scene: Scene, longest_s: float = LONGEST_S) -> WhatThen:
    """Reckon it. Raises NotFound for a mould or recipe that is not there, BadInput for what cannot be."""
    answer = WhatThen(asked, scene.room.state.room, scene.now)
    missing = _missing(asked, scene)
    if missing:
        return replace(answer, missing=missing)
    assert scene.room.state.to_come is not None
    more = _More.of(asked, scene) if asked.more else None
    there = worlds(scene.belief, scene.fittings.volume_m3 or 0.0)
    wet = _wet_room(asked, scene, there, more)
    give_up = time.monotonic() + longest_s
    until_s = scene.now.timestamp() + LOOKED_AHEAD.total_seconds()
    with numbers_told():
        went = dry_together(wet, until_s, lambda: time.monotonic() < give_up)
    ended_s = float(went.time_s[-1])
    return replace(
        answer,
        moulds=_moulds_then(scene, went, Drying.of(went, wet.to_come, wet.then)),
        more=more.then(went) if more else None,
        air=_air_then(went, wet.to_come),
        looked_until=_instant(ended_s),
        cut_short=ended_s < until_s and _anybody_waits(went),
        assumed=_assumed(asked, scene),
    )


def _missing(asked: WhatIf, scene: Scene) -> tuple[Missing, ...]:
    f, state = scene.fittings, scene.room.state
    lacks = (
        (Missing.AIR, state.air is None or state.to_come is None),
        (Missing.VOLUME, f.volume_m3 is None),
        (Missing.HEATER, _switched_on(asked.heater) and f.heater_w is None),
        (Missing.DEHUMIDIFIER, _switched_on(asked.dehumidifier) and not f.dehumidifier_points),
        (Missing.FAN, asked.fan is not None and f.fan_m_s is None),
    )
    return tuple(what for what, lacking in lacks if lacking)


def _switched_on(switched: object) -> bool:
    return getattr(switched, "runs", Runs.OFF) is not Runs.OFF


def _assumed(asked: WhatIf, scene: Scene) -> tuple[Assumed, ...]:
    f, state, belief = scene.fittings, scene.room.state, scene.belief
    told_or_learned = f.air_changes_an_hour is not None or belief.vapour.pieces >= USUALLY_MEASURED
    outdoors_matter = asked.airing is not None or asked.heater is not None
    still = asked.fan is not None or not (state.air is not None and bool(state.air.speed_measured[-1]))
    found = (
        (Assumed.AIR_CHANGES, not told_or_learned),
        (Assumed.HEAT, belief.heat.pieces < USUALLY_MEASURED),
        (Assumed.OUTSIDE, outdoors_matter and asked.outside is None and scene.outside is None),
        (Assumed.COATS_UNDER, asked.more is not None),
        (Assumed.SIZE, asked.more is not None and asked.more.like is None),
        (Assumed.STILL_AIR, still),
        (Assumed.OLD_AIR, state.guessing_since is not None),
    )
    return tuple(what for what, so in found if so)


def _wet_room(asked: WhatIf, scene: Scene, there: Worlds, more: _More | None) -> WetRoom:
    assert scene.room.state.to_come is not None
    to_come = scene.room.state.to_come.series
    zones = tuple(
        WetZone(zone.state, face_m2(place), limits, zone.multipliers.of(scene.parameters))
        for p, every in scene.room.moulds
        for place, zone in zip(p.body.zones, every, strict=True)
        for limits in [limits_after(p.recipe, p.coats_given)]
    )
    hung = ((more.at_s, more.zones),) if more else ()
    now_s = float(to_come.time_s[0])
    return WetRoom(
        there.room,
        there.share,
        _outside(asked, scene),
        to_come,
        zones,
        Running(now_s, scene.fittings.machines(_speed(scene))),
        tuple(_changes(asked, scene)),
        hung,
        _last_bell_s(scene),
    )


def _last_bell_s(scene: Scene) -> float:
    """The last that rings within what is looked at."""
    bells = [scene.board[p.mould_id].due_at for p, _ in scene.room.moulds if p.mould_id in scene.board]
    near = [at for at in bells if at is not None and at <= scene.now + LOOKED_AHEAD]
    return max((at.timestamp() for at in near), default=-np.inf)


def _speed(scene: Scene) -> float:
    assert scene.room.state.to_come is not None
    return float(scene.room.state.to_come.series.speed_m_s[0])


def _outside(asked: WhatIf, scene: Scene) -> Inside:
    """As somebody says, else as it is measured or foretold, else what the room goes back to by itself."""
    assert scene.room.state.to_come is not None
    pressure = float(scene.room.state.to_come.series.pressure_pa[0])
    if asked.outside is not None:
        return inside_of(np.array([asked.outside.temperature_k]), asked.outside.humidity, pressure)
    if scene.outside is not None:
        now_s = scene.now.timestamp()
        mean = scene.outside.mean(np.array([now_s]), np.array([now_s + 86400.0]))
        return inside_of(mean.temperature_k, mean.humidity, pressure)
    rests = Inside(np.array([scene.belief.rests_k]), np.array([scene.belief.rests_ratio]))
    return rests if np.all(np.isfinite(rests)) else _middle(scene.room.state.to_come.series)


def _middle(to_come: AirSeries) -> Inside:
    """The room's own air on an average day: nothing else is known."""
    return inside_of(
        np.array([to_come.temperature_k.mean()]), to_come.humidity.mean(), float(to_come.pressure_pa[0])
    )


def _changes(asked: WhatIf, scene: Scene) -> list[Running]:
    """What is done, by time: each change on top of those before."""
    told: list[tuple[datetime, Callable[[_Set], _Set]]] = []
    if heater := asked.heater:
        told.append((heater.at, lambda s: replace(s, fittings=_with(s.fittings, heater=heater.runs))))
    if dryer := asked.dehumidifier:
        told.append((dryer.at, lambda s: replace(s, fittings=_with(s.fittings, dehumidifier=dryer.runs))))
    if fan := asked.fan:
        still = scene.room.state.room.still_air_m_s
        told.append((fan.at, lambda s: replace(s, speed_m_s=scene.fittings.fan_m_s if fan.on else still)))
    if aired := asked.airing:
        told.append((aired.at, lambda s: replace(s, airing=aired.times)))
        told.append((aired.at + timedelta(seconds=aired.for_s), lambda s: replace(s, airing=1.0)))
    now, found = _Set(scene.fittings), []
    for at, change in sorted(told, key=lambda each: each[0]):
        now = change(now)
        speed = _speed(scene) if now.speed_m_s is None else now.speed_m_s
        found.append(Running(at.timestamp(), now.fittings.machines(speed), now.speed_m_s, now.airing))
    return found


@dataclass(frozen=True)
class _Set:
    """How everything is set."""

    fittings: RoomFittings
    speed_m_s: float | None = None
    airing: float = 1.0


def _with(fittings: RoomFittings, **runs: Runs) -> RoomFittings:
    """Set otherwise. Raises BadInput where it would hold something that nobody said."""
    return checked({**fittings.model_dump(), **runs})


@dataclass(frozen=True)
class _More:
    """The moulds to be hung besides, as zones, each as large as that of all of them."""

    name: str
    number: int
    coat: int
    recipe: Recipe
    at: datetime
    zones: tuple[WetZone, ...]

    @property
    def at_s(self) -> float:
        return self.at.timestamp()

    @classmethod
    def of(cls, asked: WhatIf, scene: Scene) -> _More:
        more = asked.more
        assert more is not None
        like = _like(more.like, scene) if more.like is not None else None
        recipe = like.recipe if like else scene.recipes(more.recipe or "")
        places = like.body.zones if like else (_face(more.height_m, more.width_m),)
        given = like.coats_given if like else 0
        coat = more.coat or min(given + 1, len(recipe.coats))
        if not 1 <= coat <= len(recipe.coats):
            raise BadInput(
                "coat_unknown",
                say("“{recipe}” has no coat {coat}.", recipe=recipe.title, coat=coat),
                say("Choose one of its {number} coats.", number=len(recipe.coats)),
                "coat",
            )
        zones = tuple(_laid(place, recipe, coat, more.number, scene) for place in places)
        return cls(like.body.name if like else recipe.title, more.number, coat, recipe, more.at, zones)

    def then(self, went: Went) -> MoreThen:
        last = slice(went.ready_before_s.size, None)
        step = self.recipe.coats[self.coat - 1]
        dewax = self.coat >= len(self.recipe.coats)
        least_s = self.recipe.final_dry.least_wait_s if dewax else step.least_wait_s
        each = _reached(went.ready_s[last], went.dry_s[last], dewax)
        times = [_instant_or_none(max(t, self.at_s + least_s)) for t in each]
        low, high = _ends(times)
        return MoreThen(self.name, self.number, self.coat, step.kind, self.at, times[0], low, high)


def _like(number: int, scene: Scene) -> Progress:
    found = scene.others.get(number)
    if found is None:
        raise NotFound(
            "mould_unknown",
            say("There is no mould number {mould_id} that hangs.", mould_id=number),
            say("Choose one that does."),
            "like",
        )
    return found


def _face(height_m: float, width_m: float) -> Zone:
    return Zone(name="face", kind=ZoneKind.OPEN_FACE, height_m=height_m, width_m=width_m)


def _laid(place: Zone, recipe: Recipe, coat: int, number: int, scene: Scene) -> WetZone:
    """One place of so many moulds, just dipped: the coats under the new one as damp as its dip allows."""
    under = recipe.coats[: coat - 1]
    limit = under[-1].ready_saturation if under else 0.0
    room_k = float(scene.room.state.to_come.series.temperature_k[0]) if scene.room.state.to_come else 293.15
    state = ZoneState(
        zone_shape(place),
        scene.now.timestamp(),
        room_k,
        tuple(coat_of(step) for step in under),
        np.full(CELLS_PER_COAT * len(under), limit),
    )
    step = recipe.coats[coat - 1]
    wet = dip(state, coat_of(step), step.immersion_s, scene.parameters)
    return WetZone(wet, number * face_m2(place), limits_after(recipe, coat), scene.parameters)


def _moulds_then(scene: Scene, went: Went, drying: Drying) -> tuple[MouldThen, ...]:
    found, first = [], 0
    for p, zones in scene.room.moulds:
        own = slice(first, first + len(zones))
        first += len(zones)
        now = scene.board.get(p.mould_id)
        if now is not None and p.dips:
            found.append(_mould_then(p, now, went, own, scene.now, drying))
    return tuple(sorted(found, key=lambda each: (each.due_now is None, each.due_now or scene.now, each.name)))


def _mould_then(
    p: Progress, mould: MouldNow, went: Went, own: slice, now: datetime, drying: Drying
) -> MouldThen:
    """The board's own hour, moved as the plain estimate moves, and its margin after that as the air dries.

    Where the plain estimate does not get there as things are, the hour at which it does then, without any margin.
    """
    about = (mould.id, mould.name, mould.next_coat, mould.due_at)
    if mould.due_at is not None and mould.due_at <= now:
        times: list[datetime | None] = [mould.due_at] * went.ready_s.shape[1]
        return MouldThen(*about, times[0], *_ends(times))
    floor_s = max(now.timestamp(), mould.least_wait_until.timestamp() if mould.least_wait_until else -np.inf)
    before = _reached(went.ready_before_s[own, None], went.dry_before_s[own, None], p.for_dewax)[0]
    then = np.maximum(_reached(went.ready_s[own], went.dry_s[own], p.for_dewax), floor_s)
    if mould.due_at is not None and np.isfinite(before):
        then = drying.bell_s(mould.due_at.timestamp(), max(before, floor_s), then)
    times = [_instant_or_none(t) for t in np.maximum(then, now.timestamp())]
    return MouldThen(*about, times[0], *_ends(times))


def _reached(ready_s: Array, dry_s: Array, dewax: bool) -> Array:
    """When the slowest zone gets there, in each place; nan: it does not."""
    out: Array = (np.maximum(ready_s, dry_s) if dewax else ready_s).max(axis=0, initial=-np.inf)
    return np.where(np.isneginf(out), np.nan, out)  # there was no time to hang it


def _ends(times: Sequence[datetime | None]) -> tuple[datetime | None, datetime | None]:
    """The earliest, and the latest if all are known."""
    known = [at for at in times if at is not None]
    return min(known, default=None), max(known) if known and len(known) == len(times) else None


def _anybody_waits(went: Went) -> bool:
    return bool(np.isnan(went.ready_s).any() or np.isnan(went.dry_s).any())


def _air_then(went: Went, to_come: AirSeries) -> tuple[AirThen, ...]:
    """The air, thinned out for a drawing."""
    rows = np.unique(
        np.searchsorted(went.time_s, np.arange(went.time_s[0], went.time_s[-1] + 1.0, DRAWN_EVERY_S))
    )
    rows = rows[rows < went.time_s.size]
    pressure = to_come.at(went.time_s[rows]).pressure_pa
    before = humidity_of(Inside(*(value[rows] for value in went.before)), pressure)
    kelvin, humidity = (
        went.after.temperature_k[rows],
        humidity_of(Inside(*(value[rows] for value in went.after)), pressure[:, None]),
    )
    return tuple(
        AirThen(
            _instant(float(went.time_s[row])),
            float(went.before.temperature_k[row]),
            float(before[i]),
            float(kelvin[i, 0]),
            float(humidity[i, 0]),
            float(kelvin[i].min()),
            float(kelvin[i].max()),
            float(humidity[i].min()),
            float(humidity[i].max()),
        )
        for i, row in enumerate(rows)
    )


def _instant(seconds: float) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)


def _instant_or_none(seconds: float) -> datetime | None:
    return None if np.isnan(seconds) else _instant(float(seconds))
