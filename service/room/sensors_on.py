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


@dataclass(frozen=True, slots=True)
class SensorOnNow:
    """A sensor and the mould that it is on now."""

    sensor: str
    mould_id: int
    mould: str
    zone: str | None
    since: datetime


def all_on_now(moulds: Iterable[Progress]) -> list[SensorOnNow]:
    """Every sensor that is on a mould, by name."""
    found = [
        SensorOnNow(each.sensor, p.mould_id, p.body.name, each.zone, each.since)
        for p in moulds
        for each in on_now(p)
    ]
    return sorted(found, key=lambda each: (each.sensor, each.since))


def check_sensor_on(
    p: Progress, body: SensorOnBody, at: datetime, heard: Sequence[SensorNow], moulds: Iterable[Progress]
) -> list[tuple[Progress, OnMould]]:
    """What can be put on a mould at that time: a scale as a whole, a probe in one of its places.

    heard: the sensors there are. moulds: all that hang. Returns from which of them it comes off by that, since it can
    be on one at a time. Raises BadInput or Conflict in words.
    """
    if body.off:
        _check_off(p, body.sensor, at)
        return []
    told = _quantities(body.sensor, heard)
    if Quantity.SURFACE_TEMPERATURE in told:
        check_face(p, body.zone)
    elif told:
        _check_whole(body)
    check_zone(p, body.zone)
    stays = [(each, stay) for each in moulds for stay in sensors_on(each) if stay.sensor == body.sensor]
    for each, stay in stays:
        _check_fits(p, body, at, each, stay)
    return [(each, stay) for each, stay in stays if each.mould_id != p.mould_id and stay.until is None]


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


def _check_off(p: Progress, sensor: str, at: datetime) -> None:
    if all(each.sensor != sensor or each.since > at for each in on_now(p)):
        raise Conflict(
            "sensor_not_on",
            say("“{sensor}” was not on {mould} then.", sensor=sensor, mould=p.body.name),
            say("Load the page again: somebody may have taken it off already."),
            "sensor",
        )


def _check_fits(p: Progress, body: SensorOnBody, at: datetime, other: Progress, stay: OnMould) -> None:
    """What was told of later times stays, and so does what is over."""
    named = {"sensor": stay.sensor, "mould": other.body.name}
    if stay.since > at:
        raise Conflict(
            "sensor_put_on_later",
            say("“{sensor}” was put on {mould} later than that.", **named),
            say("Give a time after that, or take that record back first."),
            "at",
        )
    if stay.until is not None and at < stay.until:
        raise Conflict(
            "sensor_elsewhere",
            say("“{sensor}” was on {mould} at that time.", **named),
            say("Give a time after it came off there."),
            "at",
        )
    if stay.until is None and (other.mould_id, stay.zone) == (p.mould_id, body.zone):
        raise Conflict(
            "sensor_on_already",
            say("“{sensor}” is on {mould} already.", **named),
            say("Take it off first, if it is to begin anew."),
            "sensor",
        )


def check_put_correction(p: Progress, body: SensorOnBody, said: SensorOnBody) -> None:
    """A correction tells another time, or another place of a probe. Raises BadInput."""
    if (body.sensor, body.off, body.zone is None) != (said.sensor, said.off, said.zone is None):
        raise BadInput(
            "sensor_corrected",
            say("Of a sensor on a mould only the time, and the place of a probe, can be corrected."),
            say("Take it back, and put the sensor on anew."),
            "sensor",
        )
    check_zone(p, body.zone)
