"""Plays sensors that do not exist to a real broker, in the messages that sensors.toml declares."""

from __future__ import annotations

import json
import logging
import math
import threading
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any, Protocol

from paho.mqtt.client import Client as Mqtt
from paho.mqtt.enums import CallbackAPIVersion

from sensors.address import BrokerAddress
from sensors.declared import Declaration, Declared, Value
from sensors.quantities import KINDS
from sensors.topics import SENSOR
from service.clock import Clock
from service.errors import BadInput
from service.reading import Quantity
from service.units import registry
from service.voice import say

log = logging.getLogger(__name__)

CLIENT_ID = "coatbell-replay"
LONGEST_NAP_S = 0.05
DECIMALS = 3


class Source(Protocol):
    """A pretended sensor. `topics` are patterns of sensors.toml; `measure` gives SI values, None for silence."""

    @property
    def sensor(self) -> str: ...

    @property
    def topics(self) -> Sequence[str]: ...

    def measure(self, at: datetime) -> Mapping[Quantity, float] | None: ...


class Replay:
    """Publishes what its sources measure, every `every_s` of `clock`, at full steps since 1970 (UTC).

    At a high speed of the clock, steps that would come late are left out: sensors do not send twice at once.
    Raises BadInput when a source speaks on a topic that sensors.toml does not declare.
    """

    def __init__(
        self, declared: Declared, sources: Sequence[Source], clock: Clock, every_s: float = 300.0
    ) -> None:
        self._clock, self._every_s = clock, every_s
        self._voices = [
            (source, [_declaration(declared, topic) for topic in source.topics]) for source in sources
        ]

    def messages(self, at: datetime) -> list[tuple[str, str]]:
        """Topic and payload of everything that is sent at this moment."""
        return [
            (declaration.pattern.replace(SENSOR, source.sensor), text)
            for source, declarations in self._voices
            if (values := source.measure(at)) is not None
            for declaration in declarations
            if (text := payload(declaration, values)) is not None
        ]

    def run(self, address: BrokerAddress, stop: threading.Event) -> None:
        """Publish until `stop` is set. A broker that is away is looked for again until it is back."""
        client = _client(address)
        client.loop_start()
        try:
            self._publish_until(stop, client)
        finally:
            client.disconnect()
            client.loop_stop()

    def _publish_until(self, stop: threading.Event, client: Mqtt) -> None:
        sent = None
        while not stop.wait(LONGEST_NAP_S):
            step = self._step(self._clock.now())
            # What could not be sent now is not kept for later: old air would be taken for new.
            if step != sent and client.is_connected():
                sent = step
                for topic, text in self.messages(step):
                    client.publish(topic, text)

    def _step(self, now: datetime) -> datetime:
        """The last full step."""
        past = timedelta(seconds=now.timestamp() % self._every_s)
        return (now - past).astimezone(UTC)


def _client(address: BrokerAddress) -> Mqtt:
    client = Mqtt(CallbackAPIVersion.VERSION2, client_id=CLIENT_ID)
    if address.user is not None:
        client.username_pw_set(address.user, address.password)
    context = address.tls_context()
    if context is not None:
        client.tls_set_context(context)
    client.reconnect_delay_set(min_delay=1, max_delay=10)
    client.connect_async(address.host, address.port)
    return client


def payload(declaration: Declaration, values: Mapping[Quantity, float]) -> str | None:
    """What a sensor of this declaration would send: JSON, or one plain number; None if it measures nothing of it.

    values: SI. They go out in the declared units, to `DECIMALS` places.
    """
    told = [value for value in declaration.values if value.quantity in values]
    if not told:
        return None
    if told[0].field is None:
        return str(_number(values[told[0].quantity], told[0]))
    content: dict[str, Any] = {}
    for value in told:
        _put(content, str(value.field).split("."), _number(values[value.quantity], value))
    return json.dumps(content)


def _declaration(declared: Declared, pattern: str) -> Declaration:
    found = next((one for one in declared.messages if one.pattern == pattern), None)
    if found is None:
        raise BadInput(
            "topic_undeclared",
            say(
                "The demo's sensors send on {pattern}, which sensors.toml does not declare.", pattern=pattern
            ),
            say("Put the shipped sensors.toml back, or add that pattern."),
        )
    return found


def _number(si: float, value: Value) -> float:
    if not math.isfinite(si):
        return si
    unit = value.unit.replace("%", "percent") or "dimensionless"
    sent = registry.Quantity(si, KINDS[value.quantity].dimension.value).to(unit)
    return round(float(sent.magnitude), DECIMALS)


def _put(content: dict[str, Any], path: list[str], number: float) -> None:
    for name in path[:-1]:
        content = content.setdefault(name, {})
    content[path[-1]] = number
