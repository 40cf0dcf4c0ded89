"""From when to when a sensor's readings reach."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import func, select

from service.reading import Quantity
from service.records.base_store import BaseStore
from service.records.reading_store import READINGS


class ReadingSpanStore(BaseStore):
    def reading_span(self, sensor: str) -> tuple[datetime, datetime] | None:
        """The instants of its first and its last reading; None where it has none.

        A quantity at a time, which is found by the key, however many readings there are.
        """
        at = READINGS.c.at
        found: list[datetime] = []
        with self._database.read() as session:
            for quantity in Quantity:
                of = (READINGS.c.sensor == sensor, READINGS.c.quantity == quantity.value)
                for edge in (func.min(at), func.max(at)):
                    found += [
                        value for value in session.scalars(select(edge).where(*of)) if value is not None
                    ]
        return (min(found), max(found)) if found else None
