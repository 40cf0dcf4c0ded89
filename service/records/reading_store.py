"""What the sensors measured, and what was not taken as a reading."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import Row, delete, func, or_, select, update
from sqlmodel import Session, col

from service.clock import Clock
from service.errors import BadInput
from service.reading import Flag, Quantity, Reading, Reason, Rejected
from service.records.base_store import BaseStore, insert_new
from service.records.database import Database
from service.records.instants import MICROSECOND, from_us, to_us
from service.records.plain import storable
from service.records.series import Named, SeriesNumbers
from service.records.tables import ReadingTable, RejectTable, SensorTable, Table
from service.records.utc import in_utc
from service.voice import say

READINGS = Table.metadata.tables["readings"]  # plain rows, read and written without an object each
FLAGS = {1: Flag.CLAMPED, 2: Flag.SENSOR_CLOCK_WRONG}
"""What a reading's flag stands as. A number is never given to another flag."""
NUMBER_OF = {None: None} | {flag: number for number, flag in FLAGS.items()}
REJECTS_KEPT = 10_000
"""The newest so many are kept: a sensor gone mad must not fill the disk."""
LONGEST_PAYLOAD = 500


class ReadingStore(BaseStore):
    def __init__(self, database: Database, clock: Clock) -> None:
        super().__init__(database, clock)
        self._series = SeriesNumbers()

    def add_readings(self, readings: list[Reading]) -> None:
        """Store a batch, all or none, and note when each sensor was last good.

        A second reading of the same quantity for the same sensor and instant is left out. Raises BadInput
        (``reading_not_finite``).
        """
        if not readings:
            return
        for reading in readings:
            _must_be_finite(reading)
        with self._database.write(durable=False) as session:
            _note_sensors(session, readings)
            numbers = self._series.made(session, ((r.sensor, r.quantity) for r in readings))
            insert_new(session, ReadingTable, [_row(reading, numbers) for reading in readings])
        self._series.keep(numbers)

    def readings(
        self, sensors: list[str], quantity: Quantity, since: datetime, until: datetime
    ) -> list[Reading]:
        """Readings of these sensors from `since` to `until`, both included, by time."""
        with self._database.read() as session:
            names = self._names(session, sensors, quantity)
            found = session.execute(
                select(READINGS)
                .where(
                    READINGS.c.series_id.in_(names),
                    READINGS.c.at_us.between(to_us(since), to_us(until)),
                )
                .order_by(READINGS.c.at_us)
            )
            rows = [_reading(row, names[row.series_id]) for row in found]
        return sorted(rows, key=lambda reading: (reading.at, reading.sensor))

    def _names(self, session: Session, sensors: list[str], quantity: Quantity) -> dict[int, Named]:
        """By number, those of these sensors that were ever heard of this quantity."""
        numbers = {(sensor, quantity): self._series.get(session, (sensor, quantity)) for sensor in sensors}
        return {number: named for named, number in numbers.items() if number is not None}

    def newest(self, sensor: str) -> list[Reading]:
        """The newest reading of each quantity a sensor has measured."""
        with self._database.read() as session:
            numbers = self._series.of_sensor(session, sensor)
            found = [_newest(session, (sensor, q), numbers[q]) for q in Quantity if q in numbers]
        return [reading for reading in found if reading is not None]

    def add_rejects(self, rejects: list[Rejected]) -> None:
        """Store messages that were not taken; only the newest `REJECTS_KEPT` stay."""
        with self._database.write(durable=False) as session:
            session.add_all([_reject_row(rejected) for rejected in rejects[-REJECTS_KEPT:]])
            session.flush()
            newest = session.scalar(select(func.max(RejectTable.id))) or 0
            session.execute(delete(RejectTable).where(col(RejectTable.id) <= newest - REJECTS_KEPT))

    def rejects(self, limit: int, sensor: str | None = None) -> list[Rejected]:
        """The newest rejects first; of one sensor, if named."""
        rows = select(RejectTable).order_by(col(RejectTable.id).desc()).limit(limit)
        if sensor is not None:
            rows = rows.where(col(RejectTable.sensor) == sensor)
        with self._database.read() as session:
            return [_rejected(row) for row in session.scalars(rows)]


def _must_be_finite(reading: Reading) -> None:
    if not math.isfinite(reading.value):
        raise BadInput(
            "reading_not_finite",
            say(
                "The {quantity} from “{sensor}” is not a number.",
                quantity=reading.quantity.value,
                sensor=reading.sensor,
            ),
            say("Check that sensor."),
            "value",
        )


def _row(reading: Reading, numbers: Mapping[Named, int]) -> dict[str, Any]:
    at_us = to_us(reading.at)
    return {
        "series_id": numbers[reading.sensor, reading.quantity],
        "at_us": at_us,
        "value": reading.value,
        "late_us": to_us(reading.received_at) - at_us,
        "flag": NUMBER_OF[reading.flag],
    }


def _reading(row: Row[Any], named: Named) -> Reading:
    at = from_us(row.at_us)
    return Reading(
        sensor=named[0],
        quantity=named[1],
        value=row.value,
        at=at,
        received_at=at + row.late_us * MICROSECOND,
        flag=FLAGS[row.flag] if row.flag else None,
    )


def _newest(session: Session, named: Named, number: int) -> Reading | None:
    newest = select(READINGS).where(READINGS.c.series_id == number).order_by(READINGS.c.at_us.desc()).limit(1)
    row = session.execute(newest).first()
    return _reading(row, named) if row else None


def _note_sensors(session: Session, readings: Iterable[Reading]) -> None:
    """Make the sensors known, and move each `last_good` on to the newest time of receipt."""
    last: dict[str, datetime] = {}
    for reading in readings:
        at = in_utc(reading.received_at)
        last[reading.sensor] = max(at, last.get(reading.sensor, at))
    insert_new(session, SensorTable, [{"name": name, "first_heard": at} for name, at in last.items()])
    for name, at in last.items():
        older = or_(col(SensorTable.last_good).is_(None), col(SensorTable.last_good) < at)
        session.execute(update(SensorTable).where(col(SensorTable.name) == name, older).values(last_good=at))


def _reject_row(rejected: Rejected) -> RejectTable:
    return RejectTable(
        topic=storable(rejected.topic, LONGEST_PAYLOAD),
        payload=storable(rejected.payload, LONGEST_PAYLOAD),
        received_at=rejected.received_at,
        reason=rejected.reason.value,
        words=storable(str(rejected.words), LONGEST_PAYLOAD),
        sensor=rejected.sensor,
        quantity=rejected.quantity.value if rejected.quantity else None,
    )


def _rejected(row: RejectTable) -> Rejected:
    return Rejected(
        topic=row.topic,
        payload=row.payload,
        received_at=row.received_at,
        reason=Reason(row.reason),
        words=row.words,
        sensor=row.sensor,
        quantity=Quantity(row.quantity) if row.quantity else None,
    )
