"""Moulds and the room they hang in, dried together: what if more is hung, or something is switched?

The forecast of the room's air is taken as it is; what it says of steady loads, sun and wind is found from the balance
(`room_balance.unknown_loads`) with the moulds that hang there now, dried in just that air. From the first change on the
room goes its own way: in short splits the moulds dry in air that goes straight to where it is thought to get, and the
room is then worked out with the water that they really gave off. So every gram is counted, the error falls with the
square of the splits (see the test), and without a change nothing changes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.drying.air import humidity_ratio
from service.drying.batch import shells_of
from service.drying.march import March, Numbers, Pace
from service.drying.room_balance import (
    NOTHING_RUNS,
    Inside,
    Loads,
    Machines,
    Room,
    held_at,
    humidity_of,
    inside_of,
    step,
    unknown_loads,
)
from service.drying.shell import Parameters
from service.drying.solver import (
    LONGEST_STEP_S,
    SATURATION_TOLERANCE,
    TEMPERATURE_TOLERANCE_K,
    state_of,
    way_of,
)
from service.drying.weather import Air, AirSeries
from service.drying.zone import Limits, ZoneState

Array = NDArray[np.float64]

FIRST_SPLIT_S = 60.0
SPLITS = ((60.0, FIRST_SPLIT_S), (6 * 3600.0, 600.0), (24 * 3600.0, 1200.0), (np.inf, 1800.0))
"""How long a split is, until so long after the last change."""
SHORTEST_SPLIT_S = 15.0
"""A split is no longer than the time in which the moulds would fill the room, but not shorter than this."""
REMEMBERED = 0.95
"""So much of the quickest answer so far is still reckoned with after a split."""
LEAST_ROOM_LEFT = 0.02
"""In air nearer to full than this nothing is learned of how the moulds answer to it."""


@dataclass(frozen=True)
class WetZone:
    """A zone that dries, with the face it has and what is waited for."""

    state: ZoneState
    area_m2: float
    limits: Limits
    parameters: Parameters


@dataclass(frozen=True)
class Running:
    """What runs from `at_s` on. speed_m_s: of the air at the moulds; None: as forecast. airing: times its changes."""

    at_s: float
    machines: Machines = NOTHING_RUNS
    speed_m_s: float | None = None
    airing: float = 1.0


@dataclass(frozen=True)
class WetRoom:
    """A room, or several alike side by side that differ in their numbers (rooms,), with what hangs in each.

    share: how many times the reckoned water the room's air feels of the moulds. outside: held. to_come: the forecast.
    now: what runs as forecast; then: what is changed, by time. hung: by when, besides. look_s: gone on with till then
    at least, also if all are at their limits before.
    """

    room: Room
    share: Array
    outside: Inside
    to_come: AirSeries
    zones: tuple[WetZone, ...]
    now: Running
    then: tuple[Running, ...] = ()
    hung: tuple[tuple[float, tuple[WetZone, ...]], ...] = ()
    look_s: float = -np.inf


@dataclass(frozen=True)
class Went:
    """How it goes. time_s (n,); before: the air as forecast (n,); after: as it is then (n, rooms).

    ready_s, dry_s: when each zone first comes to its limits as forecast, (zones,), and then, (zones, rooms), those hung
    besides after the others; nan: not by `time_s[-1]`. given_off_kg: of all moulds, at a share of 1, as forecast first,
    (n - 1, 1 + rooms).
    """

    time_s: Array
    before: Inside
    after: Inside
    ready_before_s: Array
    dry_before_s: Array
    ready_s: Array
    dry_s: Array
    given_off_kg: Array = field(repr=False)


def dry_together(
    wet: WetRoom,
    until_s: float,
    go_on: Callable[[], bool] = lambda: True,
    splits: Sequence[tuple[float, float]] = SPLITS,
) -> Went:
    """From the forecast's beginning to `until_s`, or until all are at their limits, or `go_on` says no more.

    Raises FloatingPointError where the numbers of a zone cannot be worked with.
    """
    way = _Way(wet, splits)
    while way.time_s < until_s and not way.all_there and go_on():
        way.go_on(until_s)
    return way.went()


class _Batch:
    """Zones that began together: in each of the places they hang (the forecast's air is place 0), a column each."""

    def __init__(self, zones: Sequence[WetZone], places: Sequence[int], air: _Airs, first_s: float) -> None:
        self.zones, self.places = len(zones), len(places)
        every = [zone for _ in places for zone in zones]
        states, limits = [zone.state for zone in every], [zone.limits for zone in every]
        self.place = np.repeat(np.asarray(places, np.intp), len(zones))
        self.area_m2 = np.array([zone.area_m2 for zone in every])
        way = way_of(states, [state.time_s for state in states], limits)
        shells = shells_of(states, [zone.parameters for zone in every])
        pace = Pace(first_s, LONGEST_STEP_S, SATURATION_TOLERANCE, TEMPERATURE_TOLERANCE_K)
        self.march = March(
            shells, state_of(states), way, lambda a, b, i: air.mean(a, b, self.place[i]), pace, False
        )
        self.ready_s, self.dry_s = self.march.ready_s.copy(), self.march.dry_s.copy()

    def give_off(self, until_s: float, places: int) -> Array:
        """Dry on; the water that each place was given."""
        before = self.march.state.evaporated
        self.march.up_to(until_s)
        for first, found in ((self.ready_s, self.march.ready_s), (self.dry_s, self.march.dry_s)):
            np.copyto(first, found, where=np.isnan(first))
        water = self.area_m2 * (self.march.state.evaporated - before)
        out: Array = np.bincount(self.place, water, places).astype(np.float64)
        return out

    @property
    def all_there(self) -> bool:
        return not bool(np.isnan(self.ready_s).any() or np.isnan(self.dry_s).any())

    def by_place(self, times: Array) -> Array:
        """(zones, places)"""
        return times.reshape(self.places, self.zones).T


@dataclass
class _Airs:
    """The air of each place over one split: straight lines from its beginning to its end. Row 0: the forecast."""

    start_s: float = 0.0
    end_s: float = 1.0
    start: Air | None = None
    end: Air | None = None

    def mean(self, start_s: Array, end_s: Array, place: Numbers) -> Air:
        assert self.start is not None
        assert self.end is not None
        part = (0.5 * (start_s + end_s) - self.start_s) / (self.end_s - self.start_s)
        return Air(
            *(a[place] + part * (b[place] - a[place]) for a, b in zip(self.start, self.end, strict=True))
        )


class Given(NamedTuple):
    """Water of the moulds of each place, the forecast's first; and how that of the rooms answers to their air."""

    kg_s: Array
    answer_kg_s: Array | float = 0.0


class _Way:
    """Where everything is, split by split."""

    def __init__(self, wet: WetRoom, splits: Sequence[tuple[float, float]]) -> None:
        self.wet, self.splits = wet, splits
        self.time_s = float(wet.to_come.time_s[0])
        self.rooms = wet.share.size
        self.airs = _Airs()
        every = range(self.rooms + 1)
        self.batches = [_Batch(wet.zones, every, self.airs, FIRST_SPLIT_S)] if wet.zones else []
        self.changes = sorted(wet.then, key=lambda each: each.at_s)
        self.waiting = sorted(wet.hung, key=lambda each: each[0])
        self.forecast = self._forecast(self.time_s)
        self.inside = Inside(*(np.full(self.rooms, value) for value in self.forecast))
        self.running, self.changed_s = wet.now, self.time_s
        self.answer_kg_s, self.quickest_kg_s = np.zeros((2, self.rooms + 1))
        self.times, self.before, self.after = [self.time_s], [self.forecast], [self.inside]
        self.given: list[Array] = []

    def _air_at(self, time_s: float) -> Air:
        return self.wet.to_come.at(np.array([time_s]))

    def _forecast(self, time_s: float) -> Inside:
        air = self._air_at(time_s)
        return inside_of(air.temperature_k, air.humidity, air.pressure_pa)

    @property
    def all_there(self) -> bool:
        looked = self.time_s >= self.wet.look_s
        return looked and not self.waiting and all(batch.all_there for batch in self.batches)

    def go_on(self, until_s: float) -> None:
        self._heed_changes()
        end_s = self._end_of_split(until_s)
        split_s, forecast = end_s - self.time_s, self._forecast(end_s)
        pressure_pa = float(self._air_at(end_s).pressure_pa[0])
        thought = self._thought_of(forecast, split_s, pressure_pa)
        self._lay_lines(end_s, forecast, thought)
        given = np.zeros(self.rooms + 1)
        for batch in self.batches:
            given = given + batch.give_off(end_s, self.rooms + 1)
        after = self._room(forecast, Given(given / split_s), split_s, pressure_pa)
        self._note_answer(given / split_s, forecast, after, pressure_pa)
        self.inside, self.time_s, self.forecast = after, end_s, forecast
        self.times.append(end_s)
        self.before.append(forecast)
        self.after.append(self.inside)
        self.given.append(given)

    def _heed_changes(self) -> None:
        while self.changes and self.changes[0].at_s <= self.time_s:
            self.running, self.changed_s = self.changes.pop(0), self.time_s
        while self.waiting and self.waiting[0][0] <= self.time_s:
            _, zones = self.waiting.pop(0)
            places = range(1, self.rooms + 1)
            states = [replace(zone, state=replace(zone.state, time_s=self.time_s)) for zone in zones]
            self.batches.append(_Batch(states, places, self.airs, FIRST_SPLIT_S))
            self.changed_s = self.time_s

    def _end_of_split(self, until_s: float) -> float:
        """As long as the schedule has it and the room bears, and to the next change at most."""
        since_s = self.time_s - self.changed_s
        split_s = next(length for until, length in self.splits if since_s < until)
        fills_1_s = float(np.max(self.wet.share * self.quickest_kg_s[1:] / self.wet.room.air_kg))
        end_s = self.time_s + min(split_s, max(1.0 / max(fills_1_s, 1e-9), SHORTEST_SPLIT_S))
        coming = [change.at_s for change in self.changes] + [at_s for at_s, _ in self.waiting]
        return min([end_s, until_s, *(at_s for at_s in coming if at_s > self.time_s)])

    def _thought_of(self, forecast: Inside, split_s: float, pressure_pa: float) -> Inside:
        """Where the air would get if the moulds answered to it as they did in the split before."""
        left = self._room_left(self.forecast, self.inside, pressure_pa)
        falls = 0.5 * (left[:1] - self._room_left(forecast, self.inside, pressure_pa)[:1])
        gives = self.answer_kg_s * left
        gives[0] -= float(self.answer_kg_s[0] * falls[0])  # the forecast's air is known at both ends
        return self._room(forecast, Given(gives, self.answer_kg_s[1:]), split_s, pressure_pa)

    def _room_left(self, forecast: Inside, inside: Inside, pressure_pa: float) -> Array:
        """How much more vapour the air of each place could hold."""
        both = (np.concatenate(pair) for pair in zip(forecast, inside, strict=True))
        air = Inside(*both)
        return humidity_ratio(air.temperature_k, 1.0, pressure_pa) - air.ratio

    def _note_answer(self, gave_kg_s: Array, forecast: Inside, after: Inside, pressure_pa: float) -> None:
        """Water for each unit of room left in the air; from dry shells in damp air none, as far as this goes."""
        left = 0.5 * (
            self._room_left(self.forecast, self.inside, pressure_pa)
            + self._room_left(forecast, after, pressure_pa)
        )
        enough = left > LEAST_ROOM_LEFT * humidity_ratio(forecast.temperature_k, 1.0, pressure_pa)
        answer = np.maximum(gave_kg_s, 0.0) / np.where(enough, left, 1.0)
        self.answer_kg_s = np.where(enough, answer, self.answer_kg_s)
        self.quickest_kg_s = np.maximum(self.answer_kg_s, REMEMBERED * self.quickest_kg_s)

    def _room(self, forecast: Inside, given: Given, split_s: float, pressure_pa: float) -> Inside:
        """The rooms at the end of the split, where the moulds of each place give so much."""
        wet, now = self.wet, self.wet.now
        start = Inside(*(np.full(self.rooms, value) for value in self.forecast))
        end = Inside(*(np.full(self.rooms, value) for value in forecast))
        as_is, then = wet.share * given.kg_s[0], wet.share * given.kg_s[1:]
        before = Loads(as_is, 0.0, as_is)
        besides = unknown_loads(wet.room, start, end, wet.outside, before, now.machines, split_s, pressure_pa)
        room, runs = wet.room, _held(self.running.machines, now.machines, end, pressure_pa)
        aired = replace(room, air_changes_1_s=room.air_changes_1_s * self.running.airing)
        loads = Loads(then + besides.water_kg_s, besides.heat_w, then, wet.share * given.answer_kg_s)
        return step(aired, self.inside, wet.outside, loads, runs, split_s, pressure_pa).inside

    def _lay_lines(self, end_s: float, forecast: Inside, thought: Inside) -> None:
        a, b = self._air_at(self.time_s), self._air_at(end_s)
        self.airs.start_s, self.airs.end_s = self.time_s, end_s
        self.airs.start = self._airs(a, self.inside)
        self.airs.end = self._airs(b, thought)

    def _airs(self, forecast: Air, inside: Inside) -> Air:
        own = self.running.speed_m_s
        speed = np.full(self.rooms, forecast.speed_m_s[0] if own is None else own)
        pressure = np.full(self.rooms, forecast.pressure_pa[0])
        humidity = np.clip(humidity_of(inside, pressure), 0.0, 1.0)
        rooms = Air(inside.temperature_k, humidity, speed, pressure)
        return Air(*(np.concatenate(pair) for pair in zip(forecast, rooms, strict=True)))

    def went(self) -> Went:
        none = np.zeros((0, self.rooms + 1))
        own, hung = (self.batches[:1], self.batches[1:]) if self.wet.zones else ([], self.batches)
        ready = np.concatenate([none, *(batch.by_place(batch.ready_s) for batch in own)])
        dry = np.concatenate([none, *(batch.by_place(batch.dry_s) for batch in own)])
        ready_hung, dry_hung = [b.by_place(b.ready_s) for b in hung], [b.by_place(b.dry_s) for b in hung]
        return Went(
            np.array(self.times),
            Inside(*(np.concatenate(values) for values in zip(*self.before, strict=True))),
            Inside(*(np.stack(values) for values in zip(*self.after, strict=True))),
            ready[:, 0],
            dry[:, 0],
            np.concatenate([ready[:, 1:], *ready_hung]),
            np.concatenate([dry[:, 1:], *dry_hung]),
            np.array(self.given).reshape(-1, self.rooms + 1),
        )


def _held(runs: Machines, now: Machines, air: Inside, pressure_pa: float) -> Machines:
    """What runs on as it is now goes on holding what it holds."""
    held = held_at(now, air, pressure_pa)
    if runs.heater == now.heater:
        runs = replace(runs, heater=held.heater)
    if (runs.dehumidifier, runs.set_humidity) == (now.dehumidifier, now.set_humidity):
        runs = replace(runs, set_humidity=held.set_humidity)
    return runs
