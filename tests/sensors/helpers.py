"""What the checks of sensors share."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from importlib.resources import files

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from sensors.address import BrokerAddress
from sensors.declared import Declared, read_declared
from sensors.decode import Measured
from sensors.message import Message
from sensors.quantities import KINDS
from service.reading import Quantity
from service.units import convert

NOW = datetime(2026, 3, 2, 14, 20, tzinfo=UTC)
UNITS = {
    Quantity.AIR_TEMPERATURE: "degC",
    Quantity.RELATIVE_HUMIDITY: "%",
    Quantity.AIR_SPEED: "m/s",
    Quantity.PRESSURE: "hPa",
    Quantity.SURFACE_TEMPERATURE: "degC",
    Quantity.WEIGHT: "kg",
}


def shipped() -> Declared:
    return read_declared(files("configs") / "sensors.toml")


def message(
    topic: str = "shop/bench/air", payload: str | bytes = b"", after_s: float = 0.0, **more: bool
) -> Message:
    """A message received `after_s` seconds after NOW on both clocks."""
    data = payload.encode() if isinstance(payload, str) else payload
    return Message(topic, data, NOW + timedelta(seconds=after_s), after_s, **more)


def measured(
    quantity: Quantity,
    sent: float,
    unit: str | None = None,
    sensor: str = "bench",
    told: datetime | None = None,
) -> Measured:
    """A number as decoded; `told`: what the sensor's own clock says."""
    unit = UNITS[quantity] if unit is None else unit
    value = convert(sent, unit, KINDS[quantity].dimension)
    return Measured(sensor, quantity, value, sent, unit, own_clock=told is not None, measured_at=told)


def wait_for(done: Callable[[], bool], seconds: float = 5.0) -> bool:
    """Whether `done` comes true in time."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if done():
            return True
        time.sleep(0.01)
    return done()


class Publisher:
    """A sensor as a real MQTT client; `send` returns once the broker has the message."""

    def __init__(self, address: BrokerAddress) -> None:
        self._mqtt = Client(CallbackAPIVersion.VERSION2, client_id="a-sensor")
        if address.user is not None:
            self._mqtt.username_pw_set(address.user, address.password)
        context = address.tls_context()
        if context is not None:
            self._mqtt.tls_set_context(context)
        self._mqtt.connect(address.host, address.port)
        self._mqtt.loop_start()

    def send(self, topic: str, payload: str | bytes, retain: bool = False, qos: int = 1) -> None:
        self._mqtt.publish(topic, payload, qos=qos, retain=retain).wait_for_publish(5)

    def close(self) -> None:
        self._mqtt.disconnect()
        self._mqtt.loop_stop()
