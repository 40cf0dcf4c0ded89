"""What the sensors measured, and what was not taken as a reading."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from sqlalchemy import Row, delete, func, or_, select, update
from sqlmodel import Session, col

from service.errors import BadInput
from service.reading import Flag, Quantity, Reading, Reason, Rejected
from service.records.base_store import BaseStore, insert_new
from service.records.plain import storable
from service.records.tables import ReadingTable, RejectTable, SensorTable, Table
from service.records.utc import in_utc

READINGS = Table.metadata.tables["readings"]  # plain rows, read and written without an object each
REJECTS_KEPT = 10_000
"""The newest so many are kept: a sensor gone mad must not fill the disk."""
LONGEST_PAYLOAD = 500


class ReadingStore(BaseStore):
    def add_readings(self, readings: list[Reading]) -> None:
        """Store a batch, all or none, and note when each sensor was last good.

        A second reading of the same quantity for the same sensor and instant is left out. Raises BadInput
        (``reading_not_finite``).
        """
        if not readings:
            return
        rows = [_row(reading) for reading in readings]
        with self._database.write(durable=False) as session:
            _note_sensors(session, readings)
            insert_new(session, ReadingTable, rows)

    def readings(
        self, sensors: list[str], quantity: Quantity, since: datetime, until: datetime
    ) -> list[Reading]:
        """Readings of these sensors from `since` to `until`, both included, by time."""
        wanted = (
            select(READINGS)
            .where(
                READINGS.c.sensor.in_(sensors),
                READINGS.c.quantity == quantity.value,
                READINGS.c.at.between(in_utc(since), in_utc(until)),
            )
            .order_by(READINGS.c.at, READINGS.c.sensor)
        )
        with self._database.read() as session:
            return [_reading(row) for row in session.execute(wanted)]

    def newest(self, sensor: str) -> list[Reading]:
        """The newest reading of each quantity a sensor has measured."""
        with self._database.read() as session:
            found = [_newest(session, sensor, quantity) for quantity in Quantity]
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


def _row(reading: Reading) -> dict[str, Any]:
    if not math.isfinite(reading.value):
        raise BadInput(
            "reading_not_finite",
            f"The {reading.quantity.value} from “{reading.sensor}” is not a number.",
            "Check that sensor.",
            "value",
        )
    return {
        "sensor": reading.sensor,
        "quantity": reading.quantity.value,
        "at": reading.at,
        "value": reading.value,
        "received_at": reading.received_at,
        "flag": reading.flag.value if reading.flag else None,
    }


def _reading(row: Row[Any]) -> Reading:
    return Reading(
        sensor=row.sensor,
        quantity=Quantity(row.quantity),
        value=row.value,
        at=row.at,
        received_at=row.received_at,
        flag=Flag(row.flag) if row.flag else None,
    )


def _newest(session: Session, sensor: str, quantity: Quantity) -> Reading | None:
    row = session.execute(
        select(READINGS)
        .where(READINGS.c.sensor == sensor, READINGS.c.quantity == quantity.value)
        .order_by(READINGS.c.at.desc())
        .limit(1)
    ).first()
    return _reading(row) if row else None


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
        words=storable(rejected.words, LONGEST_PAYLOAD),
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
