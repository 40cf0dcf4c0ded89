"""Readings as the air of a room is made of them; and thinned out to hours once they are old.

A reading stands either as itself or in its hour's summary, never in both: an hour is made in the transaction that
takes its readings away. One that comes late for such an hour stands by itself until it is thinned out into it.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

import numpy as np
from sqlalchemy import Integer, Row, case, cast, delete, func, select
from sqlmodel import Session

from service.errors import Unavailable
from service.reading import Quantity
from service.records.air_facts import FIVE_MINUTES_AN_HOUR, FiveMinutes, Hours
from service.records.base_store import inserting
from service.records.instants import FIVE_MINUTES_US, HOUR_US, from_us, to_us
from service.records.reading_store import READINGS, ReadingStore
from service.records.tables import HourTable, Table
from service.voice import say

HOURS = Table.metadata.tables["hours"]
SERIES = Table.metadata.tables["series"]
AT_A_TIME = 24
"""Hours of one quantity of one sensor that one transaction thins out: others write again within milliseconds."""


class AirStore(ReadingStore):
    def five_minutes(self, sensor: str, quantity: Quantity, since: datetime, before: datetime) -> FiveMinutes:
        """Readings of a span, gathered by five minutes; `since` is included, `before` is not."""
        number = (READINGS.c.at_us // FIVE_MINUTES_US).label("number")
        with self._database.read() as session:
            rows = session.execute(
                select(number, func.count(), func.sum(READINGS.c.value))
                .where(*self._within(session, sensor, quantity, to_us(since), to_us(before)))
                .group_by(number)
                .order_by(number)
            ).all()
        columns = _columns(rows, 3)
        return FiveMinutes(columns[0].astype(np.int64), columns[1], columns[2])

    def hours(self, sensor: str, quantity: Quantity, since: datetime, before: datetime) -> Hours:
        """Summaries of the hours that begin in a span; `since` is included, `before` is not."""
        names = ("hour", "mean", "least", "most", "count", "heard")
        with self._database.read() as session:
            rows = session.execute(
                select(*(HOURS.c[name] for name in names))
                .where(
                    HOURS.c.series_id == self._series.get(session, (sensor, quantity)),
                    HOURS.c.hour >= -(-to_us(since) // HOUR_US),
                    HOURS.c.hour < -(-to_us(before) // HOUR_US),
                )
                .order_by(HOURS.c.hour)
            ).all()
        hour, mean, least, most, count, heard = _columns(rows, len(names))
        return Hours(hour.astype(np.int64), mean, least, most, count.astype(np.int64), heard.astype(np.int64))

    def _within(
        self, session: Session, sensor: str, quantity: Quantity, since_us: int, before_us: int
    ) -> list[Any]:
        number = self._series.get(session, (sensor, quantity))
        return [READINGS.c.series_id == number, READINGS.c.at_us >= since_us, READINGS.c.at_us < before_us]

    def oldest_reading(self) -> datetime | None:
        """When the oldest reading that still stands as itself was taken."""
        with self._database.read() as session:
            oldest = _oldest(session)
        return from_us(oldest[1]) if oldest else None

    def thin_out_some(self, before: datetime) -> int:
        """Thin out the oldest readings taken before the hour `before` lies in, a day of one quantity of one sensor.

        Returns how many readings that were; 0: there are none left so old. Whole or not at all, and no longer than
        milliseconds: call it again and again.
        """
        limit_us = to_us(before) // HOUR_US * HOUR_US
        with self._database.write(durable=False) as session:
            oldest = _oldest(session)
            if oldest is None or oldest[1] >= limit_us:
                return 0
            begin_us = oldest[1] // HOUR_US * HOUR_US
            return _thin_out(session, oldest[0], begin_us, min(begin_us + AT_A_TIME * HOUR_US, limit_us))


def _columns(rows: Sequence[Row[Any]], width: int) -> Any:
    return np.array([tuple(row) for row in rows], np.float64).reshape(-1, width).T


def _oldest(session: Session) -> tuple[int, int] | None:
    """The series whose oldest reading is the oldest of all, and when that was taken."""
    numbers = session.scalars(select(SERIES.c.id)).all()
    firsts = [
        (number, session.scalar(select(func.min(READINGS.c.at_us)).where(READINGS.c.series_id == number)))
        for number in numbers
    ]
    return min(((n, at) for n, at in firsts if at is not None), key=lambda first: first[1], default=None)


def _thin_out(session: Session, series_id: int, begin_us: int, end_us: int) -> int:
    there = (
        READINGS.c.series_id == series_id,
        READINGS.c.at_us >= begin_us,
        READINGS.c.at_us < end_us,
    )
    hour = (READINGS.c.at_us // HOUR_US).label("hour")
    bit = cast(READINGS.c.at_us // FIVE_MINUTES_US % FIVE_MINUTES_AN_HOUR, Integer)
    made = session.execute(
        select(
            hour,
            func.avg(READINGS.c.value).label("mean"),
            func.min(READINGS.c.value).label("least"),
            func.max(READINGS.c.value).label("most"),
            func.count().label("count"),
            func.sum(cast(1, Integer).bitwise_lshift(bit).distinct()).label("heard"),
        )
        .where(*there)
        .group_by(hour)
    ).all()
    _add_to_hours(session, [{**row._mapping, "series_id": series_id} for row in made])
    gone = int(session.execute(delete(READINGS).where(*there)).rowcount)  # type: ignore[attr-defined]
    if gone != sum(row._mapping["count"] for row in made):
        raise Unavailable(
            "readings_changed",
            say("Readings were written by another program while they were thinned out."),
            say("Nothing was changed. Look whether two services use these records."),
        )
    return gone


def _add_to_hours(session: Session, rows: list[dict[str, Any]]) -> None:
    """Lay them down, or into the summary that is there of the same hour."""
    adding = inserting(session, HourTable)
    new, held = adding.excluded, HOURS.c
    count = held["count"] + new["count"]
    session.execute(
        adding.on_conflict_do_update(
            index_elements=["series_id", "hour"],
            set_={
                "mean": (held.mean * held["count"] + new.mean * new["count"]) / count,
                "least": case((new.least < held.least, new.least), else_=held.least),
                "most": case((new.most > held.most, new.most), else_=held.most),
                "count": count,
                "heard": held.heard.bitwise_or(new.heard),
            },
        ),
        rows,
    )
