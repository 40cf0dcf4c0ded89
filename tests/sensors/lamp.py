"""A stack light as a real MQTT client, for checks of what coatbell publishes."""

from __future__ import annotations

from paho.mqtt.client import Client as Mqtt
from paho.mqtt.client import MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from sensors.address import BrokerAddress


class Lamp:
    """A stack light: notes what it hears, in order, retained or live."""

    def __init__(self, address: BrokerAddress, topics: str = "coatbell/#", name: str = "lamp") -> None:
        self.heard: list[tuple[str, str, bool]] = []
        self.subscribed = False
        self._mqtt = Mqtt(CallbackAPIVersion.VERSION2, client_id=name)
        if address.user is not None:
            self._mqtt.username_pw_set(address.user, address.password)
        self._mqtt.on_message = self._on_message
        self._mqtt.on_connect = lambda mqtt, *_: mqtt.subscribe(topics, 1)
        self._mqtt.on_subscribe = self._on_subscribe
        self._mqtt.reconnect_delay_set(1, 1)
        self._mqtt.connect(address.host, address.port)
        self._mqtt.loop_start()

    def _on_subscribe(self, *_: object) -> None:
        self.subscribed = True

    def _on_message(self, mqtt: Mqtt, userdata: object, message: MQTTMessage) -> None:
        self.heard.append((message.topic, message.payload.decode(), message.retain))

    @property
    def now(self) -> dict[str, str]:
        """What it knows to stand there now."""
        known = {topic: payload for topic, payload, _ in list(self.heard)}
        return {topic: payload for topic, payload in known.items() if payload}

    def told(self, topic: str) -> list[str]:
        return [payload for heard, payload, _ in list(self.heard) if heard == topic]

    def close(self) -> None:
        self._mqtt.disconnect()
        self._mqtt.loop_stop()
