"""Keeps the air of every room and the wetness of every mould up to now, out of records and new readings."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.drying.shell import Parameters
from service.reading import Reading
from service.records.facts import Fact
from service.records.shop_facts import Room, Site
from service.records.store import Records
from service.room.air_book import MADE_OF, AirBook, RoomAir
from service.room.air_forecast import MOST_DAYS, forecast_air
from service.room.estimate import FORECAST_S, Estimator, ZoneEstimate
from service.room.mould_view import mould_view
from service.room.progress import Progress, progress
from service.room.room_view import RoomState, room_view, usual_pressure_pa
from service.room.views import MouldNow, RoomNow, SensorNow

LOOK_BACK = timedelta(days=MOST_DAYS + 1)
LOOK_BACK_MOST = timedelta(days=90)


@dataclass(frozen=True)
class Seen:
    """What one look found."""

    at: datetime
    rooms: tuple[RoomNow, ...]
    moulds: tuple[MouldNow, ...]


class Keeper:
    """One look at everything: `look(now)`. `take` hands it the readings as they are stored.

    sensors: tells each sensor's state at an instant.
    """

    def __init__(
        self, records: Records, parameters: Parameters, sensors: Callable[[datetime], list[SensorNow]]
    ) -> None:
        self._records = records
        self._sensors = sensors
        self._estimator = Estimator(parameters)
        self._books: dict[int, AirBook] = {}
        self._room_of: dict[str, int] = {}
        self._facts: dict[int, list[Fact]] = {}
        self._facts_number = -1
        self._lock = threading.RLock()

    def take(self, readings: Iterable[Reading]) -> None:
        """New readings, already stored."""
        with self._lock:
            for reading in readings:
                room_id = self._room_of.get(reading.sensor)
                if room_id in self._books:
                    self._books[room_id].add([reading])

    def open_books(self, now: datetime) -> None:
        """(Re)load each room's air from the records: at the start, and when a sensor is hung elsewhere."""
        with self._lock:
            self._room_of = {s.name: s.room_id for s in self._records.sensors() if s.room_id is not None}
            since = self._first_needed(now)
            self._books = {room.id: self._book(room.id, since, now) for room in self._records.rooms()}
            for mould_id in self._facts:
                self._estimator.forget(mould_id)

    def look(self, now: datetime) -> Seen:
        """The rooms and the moulds still in them, at `now`."""
        with self._lock:
            site, sensors = self._records.site(), self._sensors(now)
            moulds = self._open_moulds()
            seen = [self._look_at(room, moulds, sensors, site, now) for room in self._records.rooms()]
            rooms = tuple(room for room, _ in seen)
            return Seen(now, rooms, tuple(mould for _, there in seen for mould in there))

    def _look_at(
        self,
        room: Room,
        moulds: Sequence[Progress],
        sensors: Sequence[SensorNow],
        site: Site | None,
        now: datetime,
    ) -> tuple[RoomNow, list[MouldNow]]:
        here = [p for p in moulds if p.body.room_id == room.id]
        state = self.room_state(room, sensors, site, now)
        zones: dict[int, tuple[ZoneEstimate, ...]] = {}
        if state.air is not None and state.to_come is not None:
            zones = self._estimator.look(here, state.air.series, state.to_come.series, now.timestamp())
        parameters = self._estimator.parameters
        views = [mould_view(p, zones.get(p.mould_id, ()), state, parameters, now) for p in here]
        return room_view(state, here, site, now), views

    def sensors_now(self, now: datetime) -> list[SensorNow]:
        return self._sensors(now)

    def room_state(
        self, room: Room, sensors: Sequence[SensorNow], site: Site | None, now: datetime
    ) -> RoomState:
        """A room's air from as far back as a mould in it needs, and its forecast."""
        there = tuple(s for s in sensors if s.room_id == room.id)
        book = self._books.setdefault(room.id, AirBook())
        air = book.air(self._first_needed(now), now, room.still_air_m_s, usual_pressure_pa(site))
        to_come = forecast_air(air, now.timestamp(), FORECAST_S) if air else None
        return RoomState(room, air, to_come, there)

    def past_air(self, room: Room, site: Site | None, since: datetime, until: datetime) -> RoomAir | None:
        """A room's air in a span of the past, straight from the records."""
        with self._lock:
            book = self._book(room.id, since, until)
        return book.air(since, until, room.still_air_m_s, usual_pressure_pa(site))

    def _open_moulds(self) -> list[Progress]:
        number = self._records.last_fact_number()
        if number != self._facts_number:
            self._facts = {i: self._records.facts(i) for i in self._records.mould_ids(ended=False)}
            self._facts_number = number
        return [progress(mould_id, facts) for mould_id, facts in self._facts.items()]

    def _first_needed(self, now: datetime) -> datetime:
        starts = [p.started_at for p in self._open_moulds()]
        return max(min([*starts, now - LOOK_BACK]), now - LOOK_BACK_MOST)

    def _book(self, room_id: int, since: datetime, until: datetime) -> AirBook:
        book = AirBook()
        names = [name for name, where in self._room_of.items() if where == room_id]
        for quantity in MADE_OF:
            if names:
                book.add(self._records.readings(names, quantity, since - timedelta(hours=1), until))
        return book

    def save(self) -> None:
        """Keep the wet states over a restart, each with the newest fact it was made from."""
        with self._lock:
            for mould_id, facts in self._facts.items():
                kept = self._estimator.snapshot(mould_id)
                if kept is not None and facts:
                    self._records.save_profile(mould_id, facts[-1].number, facts[-1].recorded_at, kept)

    def restore(self) -> None:
        """Take the wet states back where no fact has come since."""
        with self._lock:
            for p in self._open_moulds():
                kept = self._records.profile(p.mould_id)
                if kept is not None and kept[0] == self._facts[p.mould_id][-1].number:
                    self._estimator.restore(p, kept[2])
