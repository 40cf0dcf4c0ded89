"""From when to when a sensor's readings reach."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import func, select

from service.records.base_store import BaseStore
from service.records.instants import from_us
from service.records.tables import ReadingTable, SeriesTable, Table

READINGS = Table.metadata.tables[str(ReadingTable.__tablename__)]
SERIES = Table.metadata.tables[str(SeriesTable.__tablename__)]


class ReadingSpanStore(BaseStore):
    def reading_span(self, sensor: str) -> tuple[datetime, datetime] | None:
        """The instants of its first and its last reading; None where it has none.

        A quantity at a time, which is found by the key, however many readings there are.
        """
        at, found = READINGS.c.at_us, list[int]()
        with self._database.read() as session:
            series = session.scalars(select(SERIES.c.id).where(SERIES.c.sensor == sensor)).all()
            for number in series:
                for edge in (func.min(at), func.max(at)):
                    value = session.scalar(select(edge).where(READINGS.c.series_id == number))
                    found += [] if value is None else [value]
        return (from_us(min(found)), from_us(max(found))) if found else None
