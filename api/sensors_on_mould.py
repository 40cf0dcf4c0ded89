"""The scales and probes that can be put on a mould, as its page offers them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from api.shop_port import ShopPort
from service.errors import NotFound
from service.reading import Quantity
from service.records.facts import Fact, SensorOnBody
from service.room.sensors_on import SensorOnNow
from service.room.views import SensorNow


@dataclass(frozen=True, slots=True)
class Offered:
    """A sensor that is not on this mould. is_probe: it sits in a place. elsewhere: the mould it is on now, if one."""

    name: str
    is_probe: bool
    elsewhere: str


def worn_by(mould_id: int, on: Sequence[SensorOnNow]) -> list[SensorOnNow]:
    """Those that are on this mould."""
    return [each for each in on if each.mould_id == mould_id]


def offered(mould_id: int, on: Sequence[SensorOnNow], sensors: Sequence[SensorNow]) -> list[Offered]:
    """Those that told a weight or how warm a face is, and are not on it; what is free comes first."""
    where = {each.sensor: each for each in on}
    found = [
        Offered(
            sensor.name,
            Quantity.SURFACE_TEMPERATURE in told,
            where[sensor.name].mould if sensor.name in where else "",
        )
        for sensor in sensors
        if (told := _of_a_mould(sensor))
        and not (sensor.name in where and where[sensor.name].mould_id == mould_id)
    ]
    return sorted(found, key=lambda each: (bool(each.elsewhere), each.name))


def _of_a_mould(sensor: SensorNow) -> set[Quantity]:
    return {quantity for quantity, *_ in sensor.values} & {Quantity.WEIGHT, Quantity.SURFACE_TEMPERATURE}


def came_off(shop: ShopPort, fact: Fact) -> str:
    """The mould that a sensor came off when it was put on this one: that was recorded just before."""
    if not isinstance(fact.body, SensorOnBody) or fact.body.off:
        return ""
    try:
        before = shop.records.fact(fact.number - 1)
    except NotFound:
        return ""
    body = before.body
    if not isinstance(body, SensorOnBody) or not body.off or body.sensor != fact.body.sensor:
        return ""
    return shop.mould(before.mould).name if before.at == fact.at else ""
