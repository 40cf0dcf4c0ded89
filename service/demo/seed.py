"""Writes the week so far into empty records: the site, its rooms and sensors, a week of readings, and the facts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.clock import FakeClock
from service.demo.instruments import Instrument
from service.demo.past import Happening
from service.drying.weather import AirSeries
from service.reading import Reading
from service.records.facts import AnyBody
from service.records.shop_facts import Room
from service.records.store import Records
from service.room.air_book import AirBook

WRITTEN_AFTER = timedelta(minutes=1)
NOTICED_AFTER = timedelta(minutes=11)
"""A slip of the pen is noticed and corrected after this long."""


class PastRecords(Records):
    """The same records, written while a past clock shows: what was done last Tuesday was recorded then."""

    def __init__(self, records: Records, clock: FakeClock) -> None:
        super().__init__(records._database, clock)
        self.clock = clock


def past_readings(instruments: Sequence[Instrument], since: datetime, until: datetime) -> list[Reading]:
    """What the instruments sent from `since` up to `until`, but for what would have been turned away."""
    return [reading for instrument in instruments for reading in _one_past(instrument, since, until)]


def _one_past(instrument: Instrument, since: datetime, until: datetime) -> list[Reading]:
    every = instrument.every_s
    first = math.ceil(since.timestamp() / every)
    steps = math.ceil(until.timestamp() / every) - first
    moments = (since + timedelta(seconds=(first + i) * every - since.timestamp()) for i in range(steps))
    return [
        Reading(instrument.sensor, quantity, value, at, at)
        for at in moments
        if not instrument.broken(at)
        for quantity, value in (instrument.measure(at) or {}).items()
    ]


def room_air(
    readings: Sequence[Reading],
    instruments: Sequence[Instrument],
    room: Room,
    span: tuple[datetime, datetime],
    usual_pressure_pa: float,
) -> AirSeries:
    """The air of a room as the service itself will put it together from these readings."""
    there = {instrument.sensor for instrument in instruments if instrument.room == room.name}
    book = AirBook()
    book.add(reading for reading in readings if reading.sensor in there)
    air = book.air(*span, room.still_air_m_s, usual_pressure_pa)
    if air is None:
        raise ValueError(f"no sensor of the demo hangs in {room.name}")
    return air.series


def write_readings(records: Records, readings: list[Reading], instruments: Sequence[Instrument]) -> None:
    """The readings, and where each sensor hangs."""
    records.add_readings(readings)
    rooms = {room.name: room.id for room in records.rooms()}
    for instrument in instruments:
        records.place_sensor(instrument.sensor, rooms[instrument.room])


@dataclass(frozen=True, slots=True)
class _Line:
    """One line to write in the ledger. `first`: of a slip, the wrong one before its correction."""

    recorded_at: datetime
    happening: Happening
    body: AnyBody
    first: bool = True


def write_facts(records: Records, happenings: Sequence[Happening], begins: datetime) -> None:
    """The facts, each recorded shortly after it happened. What was only done a moment ago is recorded by `begins`."""
    lines = sorted((line for one in happenings for line in _lines(one)), key=lambda line: line.recorded_at)
    clock = FakeClock(begins)
    past = PastRecords(records, clock)
    moulds: dict[int | None, int] = {}
    slips: dict[int, int] = {}
    for line in lines:
        clock.jump(min(line.recorded_at, begins))
        _write(past, line, moulds, slips)


def _lines(one: Happening) -> list[_Line]:
    if one.slip is None:
        return [_Line(one.at + WRITTEN_AFTER, one, one.body)]
    right = _Line(one.at + NOTICED_AFTER, one, one.body, first=False)
    return [_Line(one.at + WRITTEN_AFTER, one, one.slip), right]


def _write(past: PastRecords, line: _Line, moulds: dict[int | None, int], slips: dict[int, int]) -> None:
    one = line.happening
    replaces = None if line.first else slips[id(one)]
    fact = past.append(moulds.get(one.mould), line.body, one.at, one.hand, replaces=replaces)
    if fact.mould_id is not None:
        moulds[one.mould] = fact.mould_id
    if one.slip is not None and line.first:
        slips[id(one)] = fact.number
