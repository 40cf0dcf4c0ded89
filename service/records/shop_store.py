"""What the shop is: the site, its rooms, its sensors; and a small memory for the service."""

from __future__ import annotations

from datetime import datetime

from sqlmodel import Session, col, select

from service.errors import Conflict, NotFound
from service.local_time import zone_named
from service.records.base_store import BaseStore, insert_new
from service.records.plain import name_of, spelling, within
from service.records.shop_facts import Room, Sensor, Site
from service.records.tables import MemoryTable, RoomTable, SensorTable, SiteTable
from service.records.utc import in_utc
from service.units import Units
from service.voice import Language, say

ONLY = 1  # the number of the one site row


class ShopStore(BaseStore):
    def site(self) -> Site | None:
        """None until somebody has said what the shop is."""
        with self._database.read() as session:
            row = session.get(SiteTable, ONLY)
            return _site(row) if row else None

    def save_site(self, site: Site) -> None:
        """Raises BadInput for a name, altitude, time zone or hour that cannot be."""
        row = _site_row(site)
        with self._database.write() as session:
            session.merge(row)

    def rooms(self) -> list[Room]:
        """In the order they were added."""
        with self._database.read() as session:
            return [_room(row) for row in session.exec(select(RoomTable).order_by(col(RoomTable.id)))]

    def add_room(self, name: str, still_air_m_s: float = 0.2) -> Room:
        """Raises BadInput, or Conflict (``room_exists``)."""
        row = RoomTable(name=_room_name(name), still_air_m_s=_still_air(still_air_m_s))
        with self._database.write() as session:
            _must_be_free(session, row.name, None)
            session.add(row)
            session.flush()
            return _room(row)

    def change_room(self, room: Room) -> None:
        """Raises BadInput, NotFound (``room_unknown``) or Conflict (``room_exists``)."""
        with self._database.write() as session:
            row, name = _room_row(session, room.id), _room_name(room.name)
            if name != row.name:
                _must_be_free(session, name, room.id)
            row.name, row.still_air_m_s = name, _still_air(room.still_air_m_s)

    def sensors(self) -> list[Sensor]:
        """By name."""
        with self._database.read() as session:
            return [_sensor(row) for row in session.exec(select(SensorTable).order_by(col(SensorTable.name)))]

    def hear_sensor(self, name: str, at: datetime) -> None:
        """Note that a sensor exists. `last_good` moves with the readings, not with this."""
        row = {"name": name_of(name, say("the sensor"), "sensor", longest=200), "first_heard": in_utc(at)}
        with self._database.write(durable=False) as session:
            insert_new(session, SensorTable, [row])

    def place_sensor(self, name: str, room_id: int | None) -> None:
        """Say where a sensor hangs. Raises NotFound (``sensor_unknown``, ``room_unknown``)."""
        with self._database.write() as session:
            row = session.get(SensorTable, name)
            if row is None:
                raise NotFound(
                    "sensor_unknown",
                    say("No sensor called “{name}” was heard.", name=name),
                    say("Switch it on, wait for its first reading, and choose it from the list."),
                    "sensor",
                )
            row.room_id = None if room_id is None else _room_row(session, room_id).id

    def remember(self, name: str, value: str) -> None:
        """Keep a small text over a restart."""
        with self._database.write(durable=False) as session:
            session.merge(MemoryTable(name=name, value=value))

    def recall(self, name: str) -> str | None:
        with self._database.read() as session:
            row = session.get(MemoryTable, name)
            return row.value if row else None


def _site(row: SiteTable) -> Site:
    return Site(
        name=row.name,
        altitude_m=row.altitude_m,
        time_zone=row.time_zone,
        units=Units(row.units),
        day_starts_hour=row.day_starts_hour,
        day_ends_hour=row.day_ends_hour,
        language=Language(row.language),
    )


def _site_row(site: Site) -> SiteTable:
    return SiteTable(
        id=ONLY,
        name=name_of(site.name, say("the shop"), "name"),
        altitude_m=within(site.altitude_m, -500.0, 6000.0, say("The altitude"), " m", "altitude_m"),
        time_zone=zone_named(site.time_zone).key,
        units=site.units.value,
        day_starts_hour=int(
            within(site.day_starts_hour, 0, 23, say("The start of the day"), " h", "day_starts_hour")
        ),
        day_ends_hour=int(
            within(site.day_ends_hour, 1, 24, say("The end of the day"), " h", "day_ends_hour")
        ),
        language=site.language.value,
    )


def _room(row: RoomTable) -> Room:
    assert row.id is not None
    return Room(row.id, row.name, row.still_air_m_s)


def _room_name(name: str) -> str:
    return name_of(name, say("the room"), "name")


def _still_air(speed_m_s: float) -> float:
    return within(speed_m_s, 0.0, 10.0, say("The air speed"), " m/s", "still_air_m_s")


def _room_row(session: Session, room_id: int) -> RoomTable:
    row = session.get(RoomTable, room_id)
    if row is None:
        raise NotFound(
            "room_unknown",
            say("There is no room number {room_id}.", room_id=room_id),
            say("Add the room first."),
            "room_id",
        )
    return row


def _must_be_free(session: Session, name: str, own_id: int | None) -> None:
    others = session.exec(select(RoomTable.name).where(RoomTable.id != own_id))
    alike = next((other for other in others if spelling(other) == spelling(name)), None)
    if alike is not None:
        raise Conflict(
            "room_exists",
            say("There is a room called “{alike}” already.", alike=alike),
            say("Give it another name."),
            "name",
        )


def _sensor(row: SensorTable) -> Sensor:
    return Sensor(row.name, row.room_id, row.first_heard, row.last_good)
