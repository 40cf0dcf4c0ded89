"""What instruments told of a mould, as lines of the ledger."""

from __future__ import annotations

from service.records.facts import FaceBody, SensorOnBody
from service.records.shop_facts import Site
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
