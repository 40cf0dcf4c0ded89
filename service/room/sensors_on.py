"""Scales that moulds hang from, and probes on their faces: which sensor is on which mould, from when to when. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from service.errors import BadInput, Conflict
from service.reading import Quantity
from service.records.facts import SensorOnBody
from service.room.progress import Progress
from service.room.rules import check_face, check_zone
from service.room.views import SensorNow
from service.voice import say


@dataclass(frozen=True, slots=True)
class OnMould:
    """A sensor on a mould. zone: where a probe sits; None: a scale, or the only place. until None: it still is."""

    sensor: str
    zone: str | None
    since: datetime
    until: datetime | None = None


def sensors_on(p: Progress) -> tuple[OnMould, ...]:
    """Every sensor there ever was on a mould, by when it was put on. With the mould's end all are off."""
    found: list[OnMould] = []
    on: dict[str, OnMould] = {}
    for fact in p.sensors:
        body = fact.body
        assert isinstance(body, SensorOnBody)
        before = on.pop(body.sensor, None)
        if before is not None:
            found.append(_until(before, fact.at))
        if not body.off:
            on[body.sensor] = OnMould(body.sensor, body.zone, fact.at)
    left_at = p.ended.at if p.ended else None
    found += [_until(each, left_at) for each in on.values()]
    return tuple(sorted(found, key=lambda each: each.since))


def _until(on: OnMould, at: datetime | None) -> OnMould:
    return OnMould(on.sensor, on.zone, on.since, at)


def on_now(p: Progress) -> tuple[OnMould, ...]:
    return tuple(each for each in sensors_on(p) if each.until is None)


def check_sensor_on(
    p: Progress, body: SensorOnBody, heard: Sequence[SensorNow], moulds: Iterable[Progress]
) -> None:
    """What can be put on a mould: a scale as a whole, a probe in one of its places, and each on one mould at a time.

    heard: the sensors there are. moulds: all that hang. Raises BadInput or Conflict in words.
    """
    if body.off:
        _check_off(p, body.sensor)
        return
    told = _quantities(body.sensor, heard)
    if Quantity.SURFACE_TEMPERATURE in told:
        check_face(p, body.zone)
    elif told:
        _check_whole(body)
    check_zone(p, body.zone)
    _check_alone(p, body.sensor, moulds)


def _quantities(name: str, heard: Sequence[SensorNow]) -> set[Quantity]:
    """What a sensor that can be put on a mould tells; nothing, where it has told nothing since coatbell started."""
    sensor = next((each for each in heard if each.name == name), None)
    if sensor is None:
        raise BadInput(
            "sensor_unknown",
            say("No sensor called “{sensor}” was heard.", sensor=name),
            say("Choose one that sends, or set it up first."),
            "sensor",
        )
    told = {quantity for quantity, *_ in sensor.values}
    if told and not told & {Quantity.WEIGHT, Quantity.SURFACE_TEMPERATURE}:
        raise BadInput(
            "sensor_not_of_a_mould",
            say("“{sensor}” measures neither weight nor the warmth of a face.", sensor=name),
            say("Choose a scale or a probe; a sensor of the air belongs to a room."),
            "sensor",
        )
    return told


def _check_whole(body: SensorOnBody) -> None:
    if body.zone is not None:
        raise BadInput(
            "scale_has_no_place",
            say("A scale weighs the whole mould, not one place of it."),
            say("Leave the place empty."),
            "zone",
        )


def _check_off(p: Progress, sensor: str) -> None:
    if all(each.sensor != sensor for each in on_now(p)):
        raise Conflict(
            "sensor_not_on",
            say("“{sensor}” is not on {mould}.", sensor=sensor, mould=p.body.name),
            say("Load the page again: somebody may have taken it off already."),
            "sensor",
        )


def _check_alone(p: Progress, sensor: str, moulds: Iterable[Progress]) -> None:
    for other in moulds:
        if other.mould_id != p.mould_id and any(each.sensor == sensor for each in on_now(other)):
            raise Conflict(
                "sensor_elsewhere",
                say("“{sensor}” is on {mould}.", sensor=sensor, mould=other.body.name),
                say("Take it off there first."),
                "sensor",
            )
