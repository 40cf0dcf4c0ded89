"""From when to when a sensor's readings reach, those that are left as hours among them."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import func, select

from service.records.base_store import BaseStore
from service.records.instants import HOUR_US, from_us
from service.records.tables import HourTable, ReadingTable, SeriesTable, Table

READINGS = Table.metadata.tables[str(ReadingTable.__tablename__)]
HOURS = Table.metadata.tables[str(HourTable.__tablename__)]
SERIES = Table.metadata.tables[str(SeriesTable.__tablename__)]


class ReadingSpanStore(BaseStore):
    def reading_span(self, sensor: str) -> tuple[datetime, datetime] | None:
        """The instants of its first and its last reading, or of the hour one was in; None where it has none.

        A quantity at a time, which is found by the key, however many readings there are.
        """
        found: list[int] = []
        with self._database.read() as session:
            for number in session.scalars(select(SERIES.c.id).where(SERIES.c.sensor == sensor)).all():
                for table, at, scale in ((READINGS, READINGS.c.at_us, 1), (HOURS, HOURS.c.hour, HOUR_US)):
                    for edge in (func.min(at), func.max(at)):
                        value = session.scalar(select(edge).where(table.c.series_id == number))
                        found += [] if value is None else [value * scale]
        return (from_us(min(found)), from_us(max(found))) if found else None
