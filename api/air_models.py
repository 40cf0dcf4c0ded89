"""Air as JSON: rooms as they are, sensors, and messages not taken."""

from __future__ import annotations

from datetime import datetime

from api.models import EXAMPLE_TIME, In, Out, Words, example
from api.site_models import ROOM, RoomOut
from service.reading import Freshness, Quantity, Reason
from service.room.views import RoomNow, SensorNow

AIR_POINT = {"at": EXAMPLE_TIME, "temperature_k": 294.6, "humidity": 0.54, "speed_m_s": 0.2}
AIR_AHEAD = {
    **AIR_POINT,
    "temperature_low_k": 293.9,
    "temperature_high_k": 295.3,
    "humidity_low": 0.49,
    "humidity_high": 0.59,
}
VALUE = {"quantity": "air_temperature", "value": 294.6, "at": EXAMPLE_TIME}
SENSOR = {
    "name": "bench",
    "room_id": 1,
    "freshness": "fresh",
    "last_good": EXAMPLE_TIME,
    "values": [VALUE],
    "old_values": False,
    "last_reject": None,
    "last_reject_at": None,
}
ROOM_NOW = {
    "room": ROOM,
    "freshness": "fresh",
    "last_good": EXAMPLE_TIME,
    "temperature_k": 294.6,
    "humidity": 0.54,
    "speed_m_s": 0.2,
    "speed_measured": False,
    "pressure_pa": 101800.0,
    "pressure_measured": False,
    "swing_k": 1.2,
    "prime_on": True,
    "out_of_limits": [],
    "sensors_differ": [],
    "sensors_differ_since": None,
    "last_day": [AIR_POINT],
    "forecast": [AIR_AHEAD],
    "forecast_how": "level, trend and daily swing of 3 days",
    "sensors": [SENSOR],
}


class AirPointOut(Out):
    """Air at one moment."""

    model_config = example(AIR_POINT)
    at: datetime
    temperature_k: float
    humidity: float
    speed_m_s: float


class AirAheadOut(AirPointOut):
    """Air as forecast; it comes between low and high with 80 %."""

    model_config = example(AIR_AHEAD)
    temperature_low_k: float
    temperature_high_k: float
    humidity_low: float
    humidity_high: float


class ValueOut(Out):
    """A sensor's newest good value of one quantity: K, 0..1, m/s, Pa or kg."""

    model_config = example(VALUE)
    quantity: Quantity
    value: float
    at: datetime


class SensorOut(Out):
    """A sensor that was heard. `room_id` null: it hangs nowhere yet."""

    model_config = example(SENSOR)
    name: str
    room_id: int | None
    freshness: Freshness
    last_good: datetime | None
    values: list[ValueOut]
    old_values: bool
    last_reject: str | None
    last_reject_at: datetime | None


class RoomNowOut(Out):
    """A room's air: now, over the last day (10-minute means), and as forecast."""

    model_config = example(ROOM_NOW)
    room: RoomOut
    freshness: Freshness
    last_good: datetime | None
    temperature_k: float | None
    humidity: float | None
    speed_m_s: float | None
    speed_measured: bool
    pressure_pa: float
    pressure_measured: bool
    swing_k: float | None
    prime_on: bool
    out_of_limits: list[Words]
    sensors_differ: list[Words]
    sensors_differ_since: datetime | None
    last_day: list[AirPointOut]
    forecast: list[AirAheadOut]
    forecast_how: Words
    sensors: list[SensorOut]


class PlaceIn(In):
    """Where a sensor hangs; null: in no room."""

    model_config = example({"room_id": 1})
    room_id: int | None


class RejectOut(Out):
    """A message that was not taken, with the reason."""

    model_config = example(
        {
            "topic": "shop/window/air",
            "payload": '{"temperature": 85.0}',
            "received_at": EXAMPLE_TIME,
            "reason": "sentinel",
            "words": "85 °C is what a probe sends when it was switched on and has not measured yet.",
            "sensor": "window",
            "quantity": "air_temperature",
        }
    )
    topic: str
    payload: str
    received_at: datetime
    reason: Reason
    words: str
    sensor: str | None
    quantity: Quantity | None


def sensor_out(sensor: SensorNow) -> SensorOut:
    values = [ValueOut(quantity=q, value=v, at=at) for q, v, at in sensor.values]
    return SensorOut(
        name=sensor.name,
        room_id=sensor.room_id,
        freshness=sensor.freshness,
        last_good=sensor.last_good,
        values=values,
        old_values=sensor.old_values,
        last_reject=sensor.last_reject,
        last_reject_at=sensor.last_reject_at,
    )


def room_out(room: RoomNow) -> RoomNowOut:
    plain = {name: getattr(room, name) for name in RoomNowOut.model_fields if name != "sensors"}
    return RoomNowOut.model_validate({**plain, "sensors": [sensor_out(s) for s in room.sensors]})
