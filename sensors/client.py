"""The MQTT client: listens to the broker and feeds the pipeline, through every loss of the connection."""

from __future__ import annotations

import logging
import queue
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from paho.mqtt.client import Client as Mqtt
from paho.mqtt.client import ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import MQTTErrorCode
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from sensors import link_words
from sensors.address import BrokerAddress
from sensors.adopting import Adopting
from sensors.declared import Declared
from sensors.joined import Joined, declarations_of
from sensors.message import Message
from sensors.mqtt import make_mqtt, topic_of
from sensors.overflow import Overflow
from sensors.pipeline import Pipeline
from sensors.topics import is_under, least
from sensors.watch import Watch
from service.clock import Clock
from service.errors import Unavailable
from service.reading import Intake, Rejected
from service.voice import say

log = logging.getLogger(__name__)

LOOP_S = 0.2  # how soon a stop is noticed
SETTLED_S = 10.0  # a connection that lasted this long was a good one
THROWN_OUT = 3  # short connections in a row before another client of our name is suspected
STOP_S = 1.0
QUEUE_SIZE = 10_000  # messages; an hour of three a second
QOS = 1


class Client:
    """Reads sensors from a broker in two threads of its own: one for the network, one that works through messages.

    The session is a clean one: what a broker keeps for us while we are away would come late, without its hour, and
    be taken for air of now. Intake.broker() is told on every change but our own stop, from the network thread;
    accept() and reject() are called from the worker.
    """

    def __init__(
        self,
        address: BrokerAddress,
        declared: Declared,
        intake: Intake,
        clock: Clock,
        *,
        ours: str | None = None,
        own: Sequence[Mapping[str, Any]] = (),
        queue_size: int = QUEUE_SIZE,
        first_wait_s: float = 1.0,
        longest_wait_s: float = 30.0,
    ) -> None:
        """Raises BadInput for an address that cannot be one. The waits are those between attempts to connect.

        ours: what coatbell itself publishes under this topic never comes in as a sensor's. own: what was set up in the
        browser, as in `[[messages]]`; it stands before what is declared.
        """
        self.watch = Watch(clock)
        self._address, self._ours = address, ours
        self._joined = Joined(declared, declarations_of(own))
        self._asked: dict[int, list[str]] = {}
        self._subscribed: set[str] = set()
        self._intake = intake
        self._clock = clock
        self._pipeline = Pipeline(self._joined, intake, self.watch)
        self.adopting = Adopting(self._pipeline.topics, lambda: self._joined, self.read_as)
        self._aside: tuple[str, Callable[[bytes], None]] | None = None
        self._inbox: queue.Queue[Message | Joined | None] = queue.Queue(queue_size)
        self._overflow = Overflow()
        self._first_wait_s, self._longest_wait_s = first_wait_s, longest_wait_s
        self._link: tuple[bool, str] | None = None
        self._told: tuple[bool, str] | None = None
        self._answered = False
        self._stop = threading.Event()
        self._mqtt = self._make_mqtt()
        self._network = _thread("sensors network", self._listen)
        self._worker = _thread("sensors worker", self._work)

    def start(self) -> None:
        """Begin, once. Returns at once; the broker need not be there yet."""
        self._worker.start()
        self._network.start()

    def stop(self) -> None:
        """Leave the broker, work through what came, and end within a second."""
        until = time.monotonic() + STOP_S
        self._stop.set()
        _join(self._network, until)
        try:
            self._inbox.put(None, timeout=max(until - time.monotonic(), 0.01))
        except queue.Full:
            log.warning("%d messages were not worked through before the end", self._inbox.qsize())
        _join(self._worker, until)

    def read_as(self, joined: Joined) -> None:
        """Read messages so from here on: those that wait already are read as they were meant when they came.

        It goes the way of the messages, so that each is read once and as one thing, and none is lost.
        """
        self._joined = joined
        try:
            self._inbox.put(joined, timeout=STOP_S)
        except queue.Full as error:
            raise Unavailable(
                "too_many_messages",
                say("So many messages come in that coatbell cannot follow."),
                say("Narrow listen in sensors.toml to your own topics."),
            ) from error

    def hand_aside(self, topic: str, take: Callable[[bytes], None]) -> None:
        """From here on what comes on this one topic is no sensor's: `take` is given its payload, from the worker.

        What the broker remembers of it counts. "": nothing goes aside. The topic is subscribed to within a moment.
        """
        self._aside = (topic, take) if topic else None

    @property
    def alive(self) -> bool:
        """Both threads run. False after a start means that readings are lost: end and start again."""
        return self._network.is_alive() and self._worker.is_alive()

    @property
    def connected(self) -> bool:
        """The broker is there and lets us listen."""
        return self._link is not None and self._link[0]

    def _make_mqtt(self) -> Mqtt:
        mqtt = make_mqtt(self._address)
        mqtt.on_connect, mqtt.on_subscribe = self._on_connect, self._on_subscribe
        mqtt.on_message, mqtt.on_disconnect = self._on_message, self._on_disconnect
        return mqtt

    # The network thread. paho's own loop thread would end unseen on some errors and cannot be stopped within a second.

    def _listen(self) -> None:
        wait_s, short = self._first_wait_s, 0
        while not self._stop.is_set():
            began = time.monotonic()
            was_in = self._visit()
            settled = was_in and time.monotonic() - began >= SETTLED_S
            short = short + 1 if was_in and not settled else 0
            if short >= THROWN_OUT:
                self._set_link(False, link_words.thrown_out(self._address))
            self._tell()
            wait_s = self._first_wait_s if settled else wait_s
            self._stop.wait(wait_s)
            wait_s = min(2 * wait_s, self._longest_wait_s)

    def _visit(self) -> bool:
        """Connect and stay until the connection is lost or we stop; True if the broker let us in."""
        was_in, self._answered = False, False
        try:
            self._mqtt.reconnect()
            while not self._stop.is_set() and self._mqtt.loop(LOOP_S) is MQTTErrorCode.MQTT_ERR_SUCCESS:
                was_in = was_in or self.connected
                self._follow()
                self._tell()
            if not self._answered:
                self._set_link(False, link_words.no_answer(self._address))
        except (OSError, UnicodeError) as error:
            self._set_link(False, link_words.failed(self._address, error))
        if self._stop.is_set():
            self._mqtt.disconnect()
        return was_in

    def _follow(self) -> None:
        """Subscribe to what is read since, and no more to what is not."""
        wanted = set(self._filters)
        if not self.connected or wanted == self._subscribed:
            return
        gone, new = self._subscribed - wanted, sorted(wanted - self._subscribed)
        if new:
            self._subscribe(new)
        if gone:
            self._mqtt.unsubscribe(sorted(gone))
        self._subscribed = wanted

    @property
    def _filters(self) -> list[str]:
        aside = [self._aside[0]] if self._aside else []
        return least([*self._joined.filters, *aside])

    def _subscribe(self, filters: list[str]) -> None:
        _, mid = self._mqtt.subscribe([(topic_filter, QOS) for topic_filter in filters])
        if mid is not None:
            self._asked[mid] = filters

    def _set_link(self, connected: bool, words: str) -> None:
        self._link = (connected, words)

    def _tell(self) -> None:
        if self._link is not None and self._link != self._told and not self._stop.is_set():
            self._told = self._link
            self._intake.broker(self._link[0], self._clock.now(), self._link[1])

    # paho's callbacks: note and return.

    def _on_connect(
        self, mqtt: Mqtt, userdata: Any, flags: ConnectFlags, code: ReasonCode, properties: Properties | None
    ) -> None:
        self._answered = True
        if code.is_failure:
            self._set_link(False, link_words.refused(self._address, code.getName()))
        else:
            filters = self._filters
            self._asked, self._subscribed = {}, set(filters)
            self._subscribe(filters)

    def _on_subscribe(
        self, mqtt: Mqtt, userdata: Any, mid: int, codes: list[ReasonCode], properties: Properties | None
    ) -> None:
        asked = self._asked.pop(mid, [])
        refused = [f for f, code in zip(asked, codes, strict=False) if code.is_failure]
        if refused:
            self._set_link(False, link_words.may_not_listen(self._address, refused[0]))
        else:
            self._set_link(True, link_words.listening(self._address))

    def _on_disconnect(
        self,
        mqtt: Mqtt,
        userdata: Any,
        flags: DisconnectFlags,
        code: ReasonCode,
        properties: Properties | None,
    ) -> None:
        if self.connected:
            self._set_link(False, link_words.lost(self._address))

    def _on_message(self, mqtt: Mqtt, userdata: Any, message: MQTTMessage) -> None:
        topic = topic_of(message)
        if self._ours is not None and is_under(topic, self._ours):
            return
        received = Message(
            topic,
            bytes(message.payload),
            self._clock.now(),
            self._clock.monotonic(),
            message.retain,
            message.dup,
        )
        try:
            self._inbox.put_nowait(received)
        except queue.Full:
            self._overflow.add(received)

    # The worker thread.

    def _work(self) -> None:
        while True:
            try:
                message = self._inbox.get(timeout=LOOP_S)
            except queue.Empty:
                self._tell_overflow(self._overflow.due(time.monotonic()))
                continue
            if message is None:
                self._tell_overflow(self._overflow.take())
                return
            self._work_through(message)
            self._tell_overflow(self._overflow.due(time.monotonic()))

    def _work_through(self, message: Message | Joined) -> None:
        aside = self._aside
        if isinstance(message, Joined):
            self._pipeline.read_as(message, self._clock.monotonic())
        elif aside is not None and message.topic == aside[0]:
            aside[1](message.payload)
        else:
            self._pipeline.take(message)

    def _tell_overflow(self, rejected: Rejected | None) -> None:
        if rejected is not None:
            self._intake.reject(rejected)


def _thread(name: str, work: Callable[[], None]) -> threading.Thread:
    def guarded() -> None:
        try:
            work()
        except Exception:
            log.exception("%s ended: no readings come in any more", name)

    return threading.Thread(target=guarded, name=name, daemon=True)


def _join(thread: threading.Thread, until: float) -> None:
    if thread.is_alive():
        thread.join(max(until - time.monotonic(), 0.01))
