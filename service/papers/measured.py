"""The readings that belong to what is asked for, a sensor's day at a time: a year of them never is in memory."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from service.papers.asked import Asked
from service.reading import Quantity, Reading
from service.records.shop_facts import Site
from service.records.store import Records
from service.room.placements import Stay, placements
from service.room.progress import progress

A_DAY = timedelta(days=1)
BEFORE = A_DAY
"""A mould's air counts from the day before it came."""
TICK = timedelta(microseconds=1)


def measured(records: Records, asked: Asked, site: Site | None, now: datetime) -> Iterator[Reading]:
    """By day, sensor and quantity. Of a mould: what hung in its rooms while it did, from the day before on.

    The one place that reads the records for it.
    """
    stays = _of_mould(records, asked.mould_id, now) if asked.mould_id is not None else _of_all(records)
    bounds = asked.begins(site), asked.ends(site)
    cut = [(sensor, _later(since, bounds[0]), _earlier(until, bounds[1])) for sensor, since, until in stays]
    for sensor, since, until in _by_day([stay for stay in cut if stay[1] < stay[2]]):
        for quantity in Quantity:
            yield from records.readings([sensor], quantity, since, until - TICK)


def _of_all(records: Records) -> list[Stay]:
    """Every sensor, from its first reading to its last."""
    spans = [(sensor.name, records.reading_span(sensor.name)) for sensor in records.sensors()]
    return [(name, span[0], span[1] + TICK) for name, span in spans if span is not None]


def _of_mould(records: Records, mould_id: int, now: datetime) -> list[Stay]:
    """The stays of sensors in the rooms it hung in, while it hung there."""
    p = progress(mould_id, records.facts(mould_id))
    hung = placements(records, records.sensors())
    comes = [at for at, _ in p.rooms]
    leaves = [*comes[1:], p.ended.at if p.ended else now]
    found: list[Stay] = []
    for (came, room_id), left in zip(p.rooms, leaves, strict=True):
        there = (
            (sensor, max(since, came - BEFORE), min(until, left))
            for sensor, since, until in hung.stays(room_id)
        )
        found += [stay for stay in there if stay[1] < stay[2]]
    return found


def _by_day(stays: list[Stay]) -> Iterator[Stay]:
    """The stays cut at every day's end, all sensors of a day together."""
    if not stays:
        return
    begins, end = min(since for _, since, _ in stays), max(until for _, _, until in stays)
    while begins < end:
        ends = begins + A_DAY
        for sensor, since, until in stays:
            if max(since, begins) < min(until, ends):
                yield sensor, max(since, begins), min(until, ends)
        begins = ends


def _later(at: datetime, bound: datetime | None) -> datetime:
    return max(at, bound) if bound else at


def _earlier(at: datetime, bound: datetime | None) -> datetime:
    return min(at, bound) if bound else at
