"""What instruments told of a mould and which are on it, as lines."""

from __future__ import annotations

from datetime import datetime

from service.local_time import clock_time
from service.records.facts import FaceBody, SensorOnBody
from service.records.shop_facts import Site
from service.room.sensors_on import SensorOnNow
from service.voice import say
from service.words.numbers import temperature


def face_line(body: FaceBody, site: Site | None) -> str:
    """``Face read at hollow base: 18.4 °C``."""
    warm = temperature(body.temperature_k, site)
    if body.zone:
        return say("Face read at {place}: {temperature}", place=body.zone, temperature=warm)
    return say("Face read: {temperature}", temperature=warm)


def sensor_on_line(body: SensorOnBody) -> str:
    """``“probe 2” put on at hollow base`` or ``“hoist” taken off``."""
    if body.off:
        return say("“{sensor}” taken off", sensor=body.sensor)
    if body.zone:
        return say("“{sensor}” put on at {place}", sensor=body.sensor, place=body.zone)
    return say("“{sensor}” put on", sensor=body.sensor)


def on_mould_line(worn: SensorOnNow, site: Site | None, now: datetime) -> str:
    """``On Heron, at hollow base, since 14:10``."""
    told = {"mould": worn.mould, "time": clock_time(worn.since, site, now)}
    if worn.zone:
        return say("On {mould}, at {place}, since {time}", place=worn.zone, **told)
    return say("On {mould} since {time}", **told)


def worn_line(worn: SensorOnNow, site: Site | None, now: datetime) -> str:
    """``“probe 2” sits at hollow base since 14:10`` or ``“hoist” is on it since 14:10``."""
    told = {"sensor": worn.sensor, "time": clock_time(worn.since, site, now)}
    if worn.zone:
        return say("“{sensor}” sits at {place} since {time}", place=worn.zone, **told)
    return say("“{sensor}” is on it since {time}", **told)
