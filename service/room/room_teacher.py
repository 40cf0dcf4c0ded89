"""What each room's readings teach of it: worked out beside the look, kept in memory, the same from the same records."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from service.drying.air import humidity_ratio
from service.drying.isotherm import Array
from service.drying.room_balance import dry_air_kg, inside_of
from service.drying.room_loads import PERSON_KG_S
from service.drying.weather import AirSeries
from service.learning.room import RoomBelief, RoomHistory, RoomNumber, Told, learn_room, thought_before
from service.local_time import local
from service.records.facts import Fact, LearnAnewBody, live
from service.records.shop_facts import Room, Site
from service.records.store import Records
from service.room.air_book import RoomAir
from service.room.given_off import dipped_for, given_off_kg_s
from service.room.heard import Mask
from service.room.keeper import Keeper
from service.room.progress import progress
from service.room.room_fittings import RoomFittings, Runs
from service.room.room_view import usual_pressure_pa
from service.room.room_views import ROOM_AIR, LearnedNumber, LearnedRoom

HALF_HOUR_S = 1800.0
LOOKED_BACK = timedelta(days=10)
HOLDS_FOR = timedelta(hours=2)
TEN_PERCENT = 1.2816
"""Spreads from the middle to the 10 and the 90 %."""

Outdoors = Callable[[datetime], AirSeries | None]


def nobody_knows(now: datetime) -> AirSeries | None:
    """No sensor hangs outside, and no forecast comes."""
    return None


@dataclass(frozen=True)
class _Taught:
    """What was made of a room's readings, and of what besides."""

    belief: RoomBelief
    told: Told
    at: datetime
    since: datetime | None
    anew_at: datetime | None

    def rests_on(self, told: Told, anew_at: datetime | None) -> bool:
        return self.told == told and self.anew_at == anew_at

    def holds(self, told: Told, anew_at: datetime | None, now: datetime) -> bool:
        return self.rests_on(told, anew_at) and timedelta(0) <= now - self.at < HOLDS_FOR


class RoomTeacher:
    """fittings: of every room, by number. outdoors: the air outside around an instant, as far as anybody knows it."""

    def __init__(
        self,
        records: Records,
        keeper: Keeper,
        fittings: Callable[[], Mapping[int, RoomFittings]],
        outdoors: Outdoors = nobody_knows,
    ) -> None:
        self._records, self._keeper, self._fittings, self.outdoors = records, keeper, fittings, outdoors
        self._known: dict[int, _Taught] = {}
        self._learning = threading.Lock()

    def work_out(self, now: datetime) -> None:
        """Learn of every room whose knowledge is old. Takes some seconds a room, and holds up no look."""
        for room in self._records.rooms():
            self._taught(room, now)

    def belief(self, room: Room, now: datetime) -> RoomBelief:
        """What is thought of a room; learned on the spot where it never was, or something else was told since."""
        known = self._known.get(room.id)
        if known is not None and known.rests_on(self._told(room), self._anew_at(room)):
            return known.belief
        return self._taught(room, now).belief

    def learned(self, now: datetime) -> list[LearnedRoom]:
        """Of every room, as of when it was last worked out; of one that never was, what is thought before."""
        return [self._view(room) for room in self._records.rooms()]

    def _taught(self, room: Room, now: datetime) -> _Taught:
        with self._learning:
            told, anew_at = self._told(room), self._anew_at(room)
            known = self._known.get(room.id)
            if known is None or not known.holds(told, anew_at, now):
                known = self._learn(room, told, anew_at, now)
                self._known[room.id] = known
            return known

    def _told(self, room: Room) -> Told:
        return told_of(self._fittings().get(room.id, RoomFittings()), self._records.site())

    def _anew_at(self, room: Room) -> datetime | None:
        return anew_at(self._records.anew_facts(), room.id)

    def _learn(self, room: Room, told: Told, anew: datetime | None, now: datetime) -> _Taught:
        since = max(now - LOOKED_BACK, anew or datetime.min.replace(tzinfo=UTC))
        air = self._keeper.room_air(room, self._records.site(), since, now)
        if air is None or now - since < timedelta(seconds=4 * HALF_HOUR_S):
            return _Taught(thought_before(told), told, now, None, anew)
        first_s = float(air.series.time_s[air.measured][0])
        edges = np.arange(max(since.timestamp(), first_s), now.timestamp(), HALF_HOUR_S)
        if edges.size < 3:
            return _Taught(thought_before(told), told, now, None, anew)
        belief = learn_room(self._history(room, air, edges, now), told)
        return _Taught(belief, told, now, datetime.fromtimestamp(float(edges[0]), UTC), anew)

    def _history(self, room: Room, air: RoomAir, edges: Array, now: datetime) -> RoomHistory:
        site = self._records.site()
        kelvin, ratio = _means(air.series, edges)
        unmeasured = np.logical_not(_measured(air, edges))
        kelvin[unmeasured], ratio[unmeasured] = np.nan, np.nan
        out_k, out_w = _outside(self.outdoors(now), edges)
        given = self._given_off(room, edges, now)
        people = self._fittings().get(room.id, RoomFittings()).people
        given = given + people * PERSON_KG_S * _at_work(edges, site)
        return RoomHistory(HALF_HOUR_S, kelvin, ratio, out_k, out_w, given)

    def _given_off(self, room: Room, edges: Array, now: datetime) -> Array:
        """Of all moulds that hung in that time, those that left too."""
        here = [(p, self._keeper.own(p, now)) for p in self._keeper.hanging()]
        gone = [line.id for line in self._records.mould_lines() if line.ended_at.timestamp() > edges[0]]
        facts = self._records.facts_of(gone)
        every = [*here, *((progress(i, facts[i]), ()) for i in gone)]
        moulds = [(p, own) for p, own in every if not p.body.from_notebook]
        since = datetime.fromtimestamp(dipped_for([p for p, _ in moulds], edges), UTC)
        air = self._keeper.room_air(room, self._records.site(), since, now)
        if air is None:
            return np.zeros(edges.size - 1)
        return given_off_kg_s(moulds, room.id, air.series, edges, self._keeper.parameters)

    def _view(self, room: Room) -> LearnedRoom:
        known, told = self._known.get(room.id), self._told(room)
        before = thought_before(told)
        belief = known.belief if known is not None else before
        load = belief.load_kg_s
        return LearnedRoom(
            room,
            tuple(_number(kind, belief, before) for kind in RoomNumber),
            belief.vapour.pieces,
            known.since if known is not None else None,
            belief.outdoors,
            belief.sized,
            None if load is None else _range(load),
            self._anew_at(room),
        )


def told_of(fittings: RoomFittings, site: Site | None) -> Told:
    """What a person told of a room."""
    air_kg = None
    if fittings.volume_m3 is not None:
        pressure = usual_pressure_pa(site)
        usual = inside_of(np.array([293.15]), np.array([0.5]), pressure)
        air_kg = float(dry_air_kg(fittings.volume_m3, usual, pressure)[0])
    held = fittings.heater_set_k if fittings.heater is Runs.HOLDS else None
    return Told(air_kg, fittings.air_changes_1_s, held)


def anew_at(facts: Sequence[Fact], room_id: int) -> datetime | None:
    """When it was last said that this room, or all of the shop, is to be learned anew."""
    said = [
        fact.at
        for fact in live(list(facts))
        if isinstance(fact.body, LearnAnewBody)
        and (not fact.body.effect or (fact.body.effect, fact.body.of) == (ROOM_AIR, str(room_id)))
    ]
    return max(said, default=None)


def _number(kind: RoomNumber, belief: RoomBelief, before: RoomBelief) -> LearnedNumber:
    likely, low, high = (belief.range_of(kind, spreads) for spreads in (0.0, -TEN_PERCENT, TEN_PERCENT))
    return LearnedNumber(
        kind, likely, low, high, before.range_of(kind, -TEN_PERCENT), before.range_of(kind, TEN_PERCENT)
    )


def _range(load: tuple[float, float]) -> tuple[float, float, float]:
    middle, spread = load
    low, high = middle - TEN_PERCENT * spread, middle + TEN_PERCENT * spread
    return max(middle, 0.0), max(low, 0.0), max(high, 0.0)


def _means(series: AirSeries, edges: Array) -> tuple[Array, Array]:
    mean = series.mean(edges[:-1], edges[1:])
    return np.array(mean.temperature_k), humidity_ratio(mean.temperature_k, mean.humidity, mean.pressure_pa)


def _outside(known: AirSeries | None, edges: Array) -> tuple[Array, Array]:
    """nan where nobody knows it."""
    kelvin, ratio = np.full((2, edges.size - 1), np.nan)
    if known is not None:
        there = edges[:-1] >= known.time_s[0]
        kelvin[there], ratio[there] = (values[there] for values in _means(known, edges))
    return kelvin, ratio


def _measured(air: RoomAir, edges: Array) -> Mask:
    """Whether at least half of each span was measured."""
    counts, _ = np.histogram(air.series.time_s[air.measured], edges)
    every, _ = np.histogram(air.series.time_s, edges)
    out: Mask = 2 * counts >= np.maximum(every, 1)
    return out


def _at_work(edges: Array, site: Site | None) -> Array:
    """1.0 in the shop's working hours, else 0."""
    if site is None:
        return np.zeros(edges.size - 1)
    hours = [local(datetime.fromtimestamp(t, UTC), site).hour for t in 0.5 * (edges[1:] + edges[:-1])]
    return np.array([float(site.day_starts_hour <= hour < site.day_ends_hour) for hour in hours])
