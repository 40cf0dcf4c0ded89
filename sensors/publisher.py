"""Keeps retained topics at the broker as they are wanted: published when they change, anew after each reconnect.

Knows nothing of what stands in them. There is no queue that could fill up: what is wanted is one table, the newest
wins, and what changed meanwhile is brought over as soon as the broker is there again.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Collection, Iterator, Mapping
from typing import Any

from paho.mqtt.client import Client as Mqtt
from paho.mqtt.client import ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import MQTTErrorCode
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from sensors import link_words
from sensors.address import BrokerAddress
from sensors.mqtt import make_mqtt, topic_of
from sensors.topics import is_under

log = logging.getLogger(__name__)

QOS = 1
LOOP_S = 0.2  # how soon a change goes out, and a stop is noticed
STOP_S = 1.0
MOST_FOUND = 10_000  # topics of an earlier run that are remembered to be taken away
ALIVE = "alive"
"""The topic under the root that is 1 while the others are kept up, and 0 from then on: the connection's last will."""


class Publisher:
    """One connection, on a thread of its own, that ends by `stop` alone."""

    def __init__(
        self,
        address: BrokerAddress,
        root: str,
        *,
        first_wait_s: float = 1.0,
        longest_wait_s: float = 30.0,
    ) -> None:
        """`root`: every topic under it is ours. Raises BadInput for an address that cannot be one."""
        self._address, self._root = address, root
        self._first_wait_s, self._longest_wait_s = first_wait_s, longest_wait_s
        self._wanted: Mapping[str, str] | None = None
        self._shown: dict[str, str] = {}
        self._found: set[str] = set()
        self._trouble: str | None = None
        self.connected = False
        self._stop = threading.Event()
        self._mqtt = self._make_mqtt()
        self._thread = threading.Thread(target=self._run, name="topics", daemon=True)

    def start(self) -> None:
        """Begin, once. Returns at once; the broker need not be there yet."""
        self._thread.start()

    def show(self, wanted: Mapping[str, str]) -> None:
        """What shall stand at the broker from now on: payload by topic. Never waits, never raises."""
        self._wanted = dict(wanted)

    def stop(self) -> None:
        """Say that the topics are not kept up any more, and end within a second."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(STOP_S)

    @property
    def _alive(self) -> str:
        return f"{self._root}/{ALIVE}"

    def _make_mqtt(self) -> Mqtt:
        mqtt = make_mqtt(self._address)
        mqtt.will_set(self._alive, "0", QOS, retain=True)
        mqtt.on_connect, mqtt.on_disconnect = self._on_connect, self._on_disconnect
        mqtt.on_message = self._on_message
        return mqtt

    def _run(self) -> None:
        wait_s = self._first_wait_s
        while not self._stop.is_set():
            try:
                was_in = self._visit()
            except Exception:
                was_in = False
                log.exception("publishing stumbled; it goes on")
            wait_s = self._first_wait_s if was_in else min(2 * wait_s, self._longest_wait_s)
            self._stop.wait(wait_s)

    def _visit(self) -> bool:
        """Connect and stay until the connection is lost or we stop; True if the broker let us in."""
        was_in = False
        try:
            self._mqtt.reconnect()
            while not self._stop.is_set() and self._mqtt.loop(LOOP_S) is MQTTErrorCode.MQTT_ERR_SUCCESS:
                was_in = was_in or self.connected
                self._catch_up()
        except (OSError, UnicodeError) as error:
            self._note(link_words.failed(self._address, error))
        if self._stop.is_set():
            self._leave()
        return was_in

    def _catch_up(self) -> None:
        """Bring over what differs. What the library cannot take now is brought at the next turn."""
        if not self.connected or self._wanted is None:
            return
        wanted = {**self._wanted, self._alive: "1"}
        for topic, payload in list(changes(wanted, self._shown, self._found)):
            if not self._publish(topic, payload):
                return

    def _publish(self, topic: str, payload: str) -> bool:
        if self._mqtt.publish(topic, payload, QOS, retain=True).rc is not MQTTErrorCode.MQTT_ERR_SUCCESS:
            return False
        self._found.discard(topic)
        if payload:
            self._shown[topic] = payload
        else:
            self._shown.pop(topic, None)
        return True

    def _leave(self) -> None:
        """An orderly farewell: the broker then keeps the last will to itself, so it is said here."""
        if self.connected:
            last = self._mqtt.publish(self._alive, "0", QOS, retain=True)
            until = time.monotonic() + STOP_S / 2
            while not last.is_published() and time.monotonic() < until:
                if self._mqtt.loop(LOOP_S / 4) is not MQTTErrorCode.MQTT_ERR_SUCCESS:
                    return
        self._mqtt.disconnect()

    def _note(self, trouble: str | None) -> None:
        """Once for each change: the board tells of the broker already."""
        if trouble is not None and trouble != self._trouble:
            log.warning("nothing can be published: %s", trouble)
        self._trouble = trouble

    # The library's callbacks: note and return. They run inside loop(), on our own thread.

    def _on_connect(
        self, mqtt: Mqtt, userdata: Any, flags: ConnectFlags, code: ReasonCode, properties: Properties | None
    ) -> None:
        if code.is_failure:
            self._note(link_words.refused(self._address, code.getName()))
            return
        self._shown.clear()
        self._found.clear()
        self._note(None)
        mqtt.subscribe(f"{self._root}/#", QOS)  # what an earlier run left there
        self.connected = True

    def _on_disconnect(
        self,
        mqtt: Mqtt,
        userdata: Any,
        flags: DisconnectFlags,
        code: ReasonCode,
        properties: Properties | None,
    ) -> None:
        self.connected = False

    def _on_message(self, mqtt: Mqtt, userdata: Any, message: MQTTMessage) -> None:
        """A broker may hand over what we did not ask for (amqtt does): only what lies under the root is ours."""
        topic = topic_of(message)
        kept = message.retain and message.payload and len(self._found) < MOST_FOUND
        if kept and is_under(topic, self._root):
            self._found.add(topic)


def changes(
    wanted: Mapping[str, str], shown: Mapping[str, str], found: Collection[str]
) -> Iterator[tuple[str, str]]:
    """What is to be published: first what is gone (an empty payload takes it away), then what differs, in order.

    shown: what this connection published; found: what the broker kept from before.
    """
    for topic in sorted({*shown, *found} - set(wanted)):
        yield topic, ""
    for topic, payload in wanted.items():
        if shown.get(topic) != payload:
            yield topic, payload
