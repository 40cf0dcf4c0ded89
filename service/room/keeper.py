"""Keeps the air of every room and the wetness of every mould up to now, out of records and new readings."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Protocol

from service.drying.shell import Parameters
from service.drying.weather import AirSeries
from service.learning.smoother import MEMBERS
from service.reading import Quantity, Reading
from service.records.facts import Fact
from service.records.plain import spelling
from service.records.shop_facts import Room, Site
from service.records.store import Records
from service.room.air_book import MADE_OF, AirBook, RoomAir
from service.room.air_forecast import MOST_DAYS, AirForecast, forecast_air
from service.room.estimate import FORECAST_S, Estimator, ZoneEstimate
from service.room.finished import Finished
from service.room.hung_in import COUNTS_FOR, Hung, HungIn, by_air, hung_in
from service.room.learned_views import HeardNow, LearnedEffect
from service.room.learner import Learner
from service.room.mould_view import mould_view
from service.room.open_moulds import OpenMoulds
from service.room.outdoor_air import outdoor_air
from service.room.outside import Outside
from service.room.own_numbers import Own
from service.room.past_changes import PastChanges
from service.room.placements import Placements, by_sensor, placements
from service.room.progress import Progress
from service.room.room_view import RoomState, fallen_silent, room_view, usual_pressure_pa
from service.room.sureness import Sureness
from service.room.too_damp import too_damp
from service.room.views import MouldNow, NotAtThisHumidity, RoomNow, SensorNow

MOMENT = timedelta(microseconds=1)
LOOK_BACK = timedelta(days=MOST_DAYS + 1)
LOOK_BACK_MOST = timedelta(days=90)
KEPT_LONGER = timedelta(hours=1)
"""Air before the first that is needed: a reading counts until the next."""
PRUNED_EVERY = timedelta(days=1)
SET_BACK = timedelta(minutes=1)
"""A clock set back by more than this makes the air be read again."""
COMES_LATE = timedelta(minutes=15)
"""A reading older than the last look by more than this changes what was worked out (the broker or disk was away)."""


@dataclass(frozen=True)
class Seen:
    """What one look found."""

    at: datetime
    rooms: tuple[RoomNow, ...]
    moulds: tuple[MouldNow, ...]


class Outdoors(Protocol):
    """Whoever knows of the air outside. room: the name of the room that hangs there itself, or ""."""

    @property
    def room(self) -> str: ...

    def outside(self, airs: Mapping[str, RoomAir | None], now: datetime) -> Outside | None: ...


@dataclass(frozen=True)
class InRoom:
    """A room with the moulds that dry in its air."""

    state: RoomState
    moulds: tuple[tuple[Progress, tuple[ZoneEstimate, ...]], ...]


class Keeper:
    """One look at everything: `look(now)`. `take` hands it the readings as they are stored.

    sensors: tells each sensor's state at an instant. sureness: how sure the shop wants its bells to be.
    """

    def __init__(
        self,
        records: Records,
        parameters: Parameters,
        sensors: Callable[[datetime], list[SensorNow]],
        sureness: Callable[[], Sureness] = Sureness,
        members: int = MEMBERS,
        outdoors: Outdoors | None = None,
    ) -> None:
        self._records = records
        self._sensors = sensors
        self._outdoors, self._members = outdoors, members
        self._estimator = Estimator(parameters)
        self._books: dict[int, AirBook] = {}
        self._placements = Placements()
        self._open = OpenMoulds(records)
        self._read_since = datetime.max.replace(tzinfo=UTC)
        self._unread_at: datetime | None = None
        self._looked_at: datetime | None = None
        self._rewritten: set[int] = set()
        self._lock = threading.RLock()
        self.parameters = parameters
        self.past = PastChanges(records)
        self.learner = Learner(records, parameters, self.past, sureness, members)
        self._finished = Finished(
            records,
            parameters,
            self.learner.teachings,
            self.past,
            lambda p, until: self.past_air(p, self._records.site(), until),
            self.learner.follow,
            members,
        )

    def take(self, readings: Iterable[Reading]) -> None:
        """New readings, already stored."""
        late: dict[int, datetime] = {}
        with self._lock:
            for reading in readings:
                room_id = self._placements.room_of(reading.sensor, reading.at)
                if room_id is not None and room_id in self._books:
                    self._books[room_id].add([reading])
                    if self._looked_at is not None and reading.at < self._looked_at - COMES_LATE:
                        self._rewritten.add(room_id)
                        late[room_id] = min(reading.at, late.get(room_id, reading.at))
        for room_id, since in late.items():
            self.past.note(room_id, since)

    def open_books(self, now: datetime) -> None:
        """(Re)load each room's air from the records: at the start, and when a sensor is hung elsewhere."""
        with self._lock:
            sensors = self._records.sensors()
            self._placements = placements(self._records, sensors)
            newest = max((s.last_good for s in sensors if s.last_good is not None), default=now)
            self._unread_at = newest if newest > now else None
            self._read_since = _first_needed(self._open_moulds(), now)
            self._books = {
                room.id: self._book(room.id, self._read_since, now, self._placements)
                for room in self._records.rooms()
            }

    def start_over(self, now: datetime) -> None:
        """What is known of the past air changed: load it anew, and work every mould out again from its facts."""
        with self._lock:
            self.open_books(now)
            for mould_id in self._open.facts:
                self._forget(mould_id)

    def _forget(self, mould_id: int) -> None:
        self._estimator.forget(mould_id)
        self.learner.forget(mould_id)
        self._records.drop_profile(mould_id)

    def look(self, now: datetime) -> Seen:
        """The rooms and the moulds still in them, at `now`."""
        with self._lock:
            self.learner.follow()
            moulds, site, sensors = self._open_moulds(), self._records.site(), self._sensors(now)
            since = _first_needed(moulds, now)
            self._heed_the_past(moulds, since, now)
            rooms = self._records.rooms()
            states = self._room_states(rooms, sensors, site, since, now)
            there = {room.id: [p for p in moulds if p.body.room_id == room.id] for room in rooms}
            airs = {room_id: state.air for room_id, state in states.items()}
            seen = [self._look_at(states[room.id], there[room.id], airs, site, now) for room in rooms]
            self._looked_at = now
            return Seen(now, tuple(room for room, _ in seen), tuple(m for _, views in seen for m in views))

    def _heed_the_past(self, moulds: Sequence[Progress], since: datetime, now: datetime) -> None:
        """Load older air where it is needed, and work out anew what late readings changed."""
        set_back = self._looked_at is not None and now < self._looked_at - SET_BACK
        set_right = self._unread_at is not None and now >= self._unread_at
        if since < self._read_since - KEPT_LONGER or set_back or set_right:
            self.open_books(now)
        if since > self._read_since + PRUNED_EVERY:
            self._prune(since)
        for p in moulds:
            if any(room_id in self._rewritten for _, room_id in p.rooms):
                self._forget(p.mould_id)
        self._rewritten.clear()

    def _prune(self, since: datetime) -> None:
        self._read_since = since
        for book in self._books.values():
            book.forget_before(since - KEPT_LONGER)

    def _look_at(
        self,
        state: RoomState,
        here: Sequence[Progress],
        airs: Mapping[int, RoomAir | None],
        site: Site | None,
        now: datetime,
    ) -> tuple[RoomNow, list[MouldNow]]:
        own = {p.mould_id: hung_in(p.rooms, airs) for p in here}
        views = [
            view
            for theirs, moulds in by_air(state, here, own, now)
            for view in self._look_into(theirs, moulds, own, now)
        ]
        return room_view(state, here, site, now, {i: hung.air for i, hung in own.items()}), views

    def _look_into(
        self, state: RoomState, moulds: Sequence[Progress], own: Mapping[int, HungIn], now: datetime
    ) -> list[MouldNow]:
        """The moulds that are in this air."""
        zones = self._zones(state, moulds, own, now)
        never: dict[int, NotAtThisHumidity] = {}
        if state.air is not None and state.to_come is not None:
            to_come, now_s = state.to_come.series, now.timestamp()
            never = too_damp(moulds, zones, to_come, now_s, self._estimator.parameters)
        return [
            mould_view(
                p,
                zones.get(p.mould_id, ()),
                state,
                now,
                never.get(p.mould_id),
                own[p.mould_id].air,
                p.mould_id in self._estimator.unworkable,
                self.learner.expected(p, zones.get(p.mould_id, ()), now),
            )
            for p in moulds
        ]

    def _zones(
        self, state: RoomState, moulds: Sequence[Progress], own: Mapping[int, HungIn], now: datetime
    ) -> dict[int, tuple[ZoneEstimate, ...]]:
        """How wet they are, in this air, and when they will be at their limits; none where no air is known."""
        if state.air is None or state.to_come is None:
            return {}
        moved = {
            p.mould_id: hung.air.series
            for p in moulds
            if not (hung := own[p.mould_id]).rooms_always and hung.air is not None
        }
        which = (state.room.id, state.guessing_since is None)
        measured = [p for p in moulds if not p.body.from_notebook]
        numbers = {p.mould_id: self.learner.own(p, now) for p in measured}
        to_come, now_s = state.to_come.series, now.timestamp()
        return self._estimator.look(measured, state.air.series, to_come, now_s, moved, which, numbers)

    def in_room(self, room: Room, now: datetime) -> InRoom:
        """A room's air, and the moulds that hang in just that air, each as wet as it is now."""
        with self._lock:
            moulds, site, sensors = self._open_moulds(), self._records.site(), self._sensors(now)
            since = _first_needed(moulds, now)
            self._heed_the_past(moulds, since, now)
            states = self._room_states(self._records.rooms(), sensors, site, since, now)
            state, airs = states[room.id], {room_id: each.air for room_id, each in states.items()}
            here = [p for p in moulds if p.body.room_id == room.id]
            own = {p.mould_id: hung_in(p.rooms, airs) for p in here}
            there = [p for p in here if own[p.mould_id].rooms_now]
            zones = self._zones(state, there, own, now)
        return InRoom(state, tuple((p, zones[p.mould_id]) for p in there if p.mould_id in zones))

    def sensors_now(self, now: datetime) -> list[SensorNow]:
        return self._sensors(now)

    def _room_states(
        self,
        rooms: Sequence[Room],
        sensors: Sequence[SensorNow],
        site: Site | None,
        since: datetime,
        now: datetime,
    ) -> dict[int, RoomState]:
        """Each room's air from as far back as any mould needs, and its forecast."""
        pressure_pa = usual_pressure_pa(site)
        books = {room.id: self._books.setdefault(room.id, AirBook()) for room in rooms}
        airs = {room.id: books[room.id].air(since, now, room.still_air_m_s, pressure_pa) for room in rooms}
        outside = self._outside({room.name: airs[room.id] for room in rooms}, now)
        states = {}
        for room in rooms:
            there = tuple(s for s in sensors if s.room_id == room.id)
            differing = books[room.id].differing(since, now, fallen_silent(there))
            to_come = self._to_come(room, airs[room.id], outside, now)
            states[room.id] = RoomState(room, airs[room.id], to_come, there, differing)
        return states

    def _outside(self, airs: Mapping[str, RoomAir | None], now: datetime) -> Outside | None:
        return self._outdoors.outside(airs, now) if self._outdoors else None

    def outdoor_air(self, now: datetime) -> AirSeries | None:
        """The air outside around `now`; None where too little is known of it."""
        with self._lock:
            site, since = self._records.site(), _first_needed(self._open_moulds(), now)
            pressure_pa = usual_pressure_pa(site)
            airs = {
                room.name: self._books[room.id].air(since, now, room.still_air_m_s, pressure_pa)
                for room in self._records.rooms()
                if room.id in self._books
            }
            outside = self._outside(airs, now)
        return outdoor_air(outside, now.timestamp(), pressure_pa) if outside is not None else None

    def _to_come(
        self, room: Room, air: RoomAir | None, outside: Outside | None, now: datetime
    ) -> AirForecast | None:
        """The room that hangs outside itself follows nothing."""
        itself = self._outdoors is not None and spelling(room.name) == spelling(self._outdoors.room)
        return forecast_air(air, now.timestamp(), FORECAST_S, None if itself else outside) if air else None

    def hung(self, now: datetime) -> list[Hung]:
        """The moulds that hang in air that is known, each with its own up to now and to come."""
        with self._lock:
            moulds, site = self._open_moulds(), self._records.site()
            since = _first_needed(moulds, now)
            states = self._room_states(self._records.rooms(), (), site, since, now)
            airs = {room_id: state.air for room_id, state in states.items()}
        own = [(p, hung_in(p.rooms, airs)) for p in moulds if not p.body.from_notebook]
        return [
            self._hung(p, found, states[p.body.room_id], now) for p, found in own if found.air is not None
        ]

    def _hung(self, p: Progress, found: HungIn, state: RoomState, now: datetime) -> Hung:
        """A mould in its own air, which may come otherwise for each of its members."""
        assert found.air is not None
        air, to_come = found.air, None
        if found.rooms_always and state.air is not None:
            air, to_come = state.air, state.to_come
        to_come = to_come or forecast_air(air, now.timestamp(), FORECAST_S)
        return Hung(p, air, to_come.members(self._members), self.learner.own(p, now))

    def work_out_spread(self, now: datetime) -> bool:
        """Work in what was heard, and renew how sure some hours are. Takes up to some seconds, and holds up nobody.

        Returns whether anything is known that was not before.
        """
        with self._lock:
            self.learner.follow()
            measured = [p for p in self._open_moulds() if not p.body.from_notebook]
            hung = self.hung(now) if self.learner.wants(measured, now) else []
        return self.learner.work_out(hung, now)

    def learn_from_the_finished(self, now: datetime, for_s: float) -> int:
        """Work in moulds that left, one at least if any; returns how many were."""
        return self._finished.work_out_some(now, for_s)

    def measured(self, room_id: int, quantity: Quantity, since: datetime, until: datetime) -> list[Reading]:
        """What the sensors that hung in a room told from `since` to `until`, as it came, by time."""
        with self._lock:
            stays = self._placements.stays(room_id)
        spans = [(sensor, max(since, came), min(until, went)) for sensor, came, went in stays]
        found = [
            reading
            for sensor, first, last in spans
            if first <= last
            for reading in self._records.readings([sensor], quantity, first, last)
        ]
        return sorted(found, key=lambda reading: reading.at)

    def past_air(self, p: Progress, site: Site | None, until: datetime) -> RoomAir | None:
        """The air a mould hung in from its start on, and what counts for it from before."""
        since = min(p.started_at, until) - COUNTS_FOR
        rooms = {room.id: room for room in self._records.rooms()}
        pressure_pa = usual_pressure_pa(site)
        airs = {
            room_id: self._air_of(room_id, since, until, rooms[room_id].still_air_m_s, pressure_pa)
            for room_id in {room_id for _, room_id in p.rooms}
        }
        return hung_in(p.rooms, airs).air

    def room_air(self, room: Room, site: Site | None, since: datetime, until: datetime) -> RoomAir | None:
        """The air of a room itself; None where none was measured in that time."""
        return self._air_of(room.id, since, until, room.still_air_m_s, usual_pressure_pa(site))

    def _air_of(
        self, room_id: int, since: datetime, until: datetime, still_air_m_s: float, usual_pressure_pa: float
    ) -> RoomAir | None:
        """From the book at hand if it reaches back so far; else from the records, while nobody waits."""
        with self._lock:
            placements = self._placements
            if since >= self._read_since and room_id in self._books:
                return self._books[room_id].air(since, until, still_air_m_s, usual_pressure_pa)
        book = self._book(room_id, since, until, placements)
        return book.air(since, until, still_air_m_s, usual_pressure_pa)

    def _open_moulds(self) -> list[Progress]:
        if self._open.follow():
            self._forget_the_ended()
        return self._open.progress()

    def hanging(self) -> list[Progress]:
        """How far each mould still here is."""
        with self._lock:
            return self._open_moulds()

    def own(self, p: Progress, now: datetime) -> Own:
        """The likeliest numbers of a mould."""
        return self.learner.own(p, now)

    def learned(self, now: datetime) -> list[LearnedEffect]:
        """What all moulds taught of the shop by `now`."""
        return self.learner.teachings.learned(now, self.learner.follow())

    def heard(self, p: Progress) -> list[HeardNow]:
        """What was heard of a mould, and what it was held against."""
        it = self.learner.teachings.lesson(p.mould_id)
        return list(it.heard) if it else []

    def open_facts(self) -> list[Fact]:
        """Everything recorded of the moulds still here."""
        with self._lock:
            self._open_moulds()
            return [fact for mould_id in sorted(self._open.facts) for fact in self._open.facts[mould_id]]

    def needs_air_since(self, now: datetime) -> datetime:
        """From when on the air of the moulds still here is wanted as it was measured."""
        with self._lock:
            return min([*(p.started_at for p in self._open_moulds()), now]) - COUNTS_FOR - KEPT_LONGER

    def _forget_the_ended(self) -> None:
        """Should an end be undone, the facts are played back, in the air as it is known by then."""
        for mould_id in (self._estimator.kept | self.learner.kept) - self._open.facts.keys():
            self._forget(mould_id)
            self.learner.end(mould_id)

    def _book(self, room_id: int, since: datetime, until: datetime, placements: Placements) -> AirBook:
        stays, first = placements.stays(room_id), since - KEPT_LONGER
        book = AirBook(by_sensor(stays))
        for sensor, came, went in stays:
            span = max(first, came), min(until + MOMENT, went)
            for quantity in MADE_OF if span[0] < span[1] else ():
                book.add_hours(sensor, quantity, self._records.hours(sensor, quantity, *span))
                book.add_gathered(sensor, quantity, self._records.five_minutes(sensor, quantity, *span))
        return book

    def save(self) -> None:
        """Keep the wet states over a restart, each with the newest fact it was made from."""
        with self._lock:
            for p in self._open.progress():
                facts, kept = self._open.facts[p.mould_id], self._estimator.snapshot(p.mould_id)
                if kept is not None and facts:
                    found = {**kept, "sure": self.learner.packed(p)}
                    self._records.save_profile(p.mould_id, facts[-1].number, facts[-1].recorded_at, found)

    def restore(self) -> None:
        """Take the wet states back where no fact has come since, and what bells need where it still fits."""
        with self._lock:
            self.learner.follow()
            for p in self._open_moulds():
                kept = self._records.profile(p.mould_id)
                if kept is not None:
                    self.learner.restore(p, kept[2].get("sure", {}))
                if kept is not None and kept[0] == self._open.facts[p.mould_id][-1].number:
                    own = self.learner.own(p, kept[1])
                    self._estimator.restore(p, kept[2], own)


def _first_needed(moulds: Sequence[Progress], now: datetime) -> datetime:
    """From when on the air is needed, to play every mould back and to know the daily swing."""
    return max(min([*(p.started_at - COUNTS_FOR for p in moulds), now - LOOK_BACK]), now - LOOK_BACK_MOST)
