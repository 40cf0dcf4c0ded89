"""Which room each sensor hung in, and since when: a sensor carried to another room leaves its past where it was."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from service.records.shop_facts import Sensor
from service.records.store import Records

REMEMBERED_AS = "where sensors hung"
A_SLIP = timedelta(minutes=10)
"""Hung elsewhere so soon again, it was the wrong room that was chosen; it never hung there."""
Places = list[tuple[datetime, int | None]]
Remembered = dict[str, Places]
Stay = tuple[str, datetime, datetime]
EVER = datetime.min.replace(tzinfo=UTC)


@dataclass(frozen=True)
class Placements:
    """By sensor, (since when, room or None), in order. The first counts for all that was sent before, too."""

    places: Remembered = field(default_factory=dict)

    def room_of(self, sensor: str, at: datetime) -> int | None:
        """Where the sensor hung at that time; None if nowhere."""
        return room_at(self.places.get(sensor, []), at)

    def stays(self, room_id: int) -> list[Stay]:
        """Each stay of a sensor in a room: from when (included) to when (not included)."""
        found = []
        for sensor, places in self.places.items():
            ends = [since for since, _ in places[1:]] + [datetime.max.replace(tzinfo=UTC)]
            found += [
                (sensor, since, end)
                for (since, room), end in zip(places, ends, strict=True)
                if room == room_id
            ]
        return found


def room_at(places: Sequence[tuple[datetime, int | None]], at: datetime) -> int | None:
    """The room of these places, in order, that holds at that time; None if none."""
    return next((room for since, room in reversed(places) if since <= at), None)


def by_sensor(stays: Sequence[Stay]) -> dict[str, list[tuple[datetime, datetime]]]:
    """The stays of each sensor."""
    return {sensor: [(came, went) for name, came, went in stays if name == sensor] for sensor, _, _ in stays}


def placements(records: Records, sensors: Sequence[Sensor]) -> Placements:
    """As remembered; of a sensor of which nothing is, where it hangs now counts for ever."""
    remembered = _remembered(records)
    places = {sensor.name: _places(remembered, sensor) or [(EVER, sensor.room_id)] for sensor in sensors}
    return Placements({name: [(EVER, own[0][1]), *own[1:]] for name, own in places.items()})


def place(records: Records, name: str, room_id: int | None, at: datetime) -> None:
    """Hang a sensor in a room, or nowhere, and remember since when. Raises NotFound."""
    sensor = next((s for s in records.sensors() if s.name == name), None)
    records.place_sensor(name, room_id)
    remembered = _remembered(records)
    own = _places(remembered, sensor) if sensor else []
    if own and at - own[-1][0] < A_SLIP:
        own.pop()
    if not own or own[-1][1] != room_id:
        own.append((at, room_id))
    _remember(records, {**remembered, name: own})


def _places(remembered: Remembered, sensor: Sensor) -> Places:
    """What is remembered of a sensor, if it still fits where it hangs."""
    own = remembered.get(sensor.name, [])
    if own and own[-1][1] == sensor.room_id:
        return list(own)
    return [] if sensor.room_id is None else [(EVER, sensor.room_id)]


def _remember(records: Records, remembered: Remembered) -> None:
    text = {name: [(since.isoformat(), room) for since, room in own] for name, own in remembered.items()}
    records.remember(REMEMBERED_AS, json.dumps(text))


def _remembered(records: Records) -> Remembered:
    text = json.loads(records.recall(REMEMBERED_AS) or "{}")
    return {
        name: [(datetime.fromisoformat(since), room) for since, room in own] for name, own in text.items()
    }
