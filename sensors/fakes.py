"""Stand-ins without a network: an intake that keeps what it gets, a broker and a client in memory."""

from __future__ import annotations

from datetime import datetime

from sensors.adopting import Adopting
from sensors.declared import Declared
from sensors.joined import Joined
from sensors.message import Message
from sensors.pipeline import Pipeline
from sensors.topics import match
from sensors.watch import Watch
from service.clock import Clock
from service.reading import Intake, Reading, Rejected


class FakeIntake:
    """Keeps everything handed over, in order."""

    def __init__(self) -> None:
        self.readings: list[Reading] = []
        self.rejects: list[Rejected] = []
        self.links: list[tuple[bool, datetime, str]] = []

    def accept(self, reading: Reading) -> None:
        self.readings.append(reading)

    def reject(self, rejected: Rejected) -> None:
        self.rejects.append(rejected)

    def broker(self, connected: bool, at: datetime, words: str) -> None:
        self.links.append((connected, at, words))


class FakeBroker:
    """Passes messages straight to its clients, and keeps retained ones for those that come later."""

    def __init__(self) -> None:
        self.up = True
        self._clients: list[FakeClient] = []
        self._retained: dict[str, bytes] = {}

    def join(self, client: FakeClient) -> None:
        self._clients.append(client)
        if self.up:
            self._welcome(client)

    def leave(self, client: FakeClient) -> None:
        self._clients.remove(client)

    def publish(self, topic: str, payload: str | bytes, retain: bool = False) -> None:
        """Send as a sensor would. While the broker is down nothing arrives anywhere."""
        if not self.up:
            return
        data = payload.encode() if isinstance(payload, str) else payload
        if retain:
            self._retained[topic] = data
        for client in self._clients:
            client.hear(topic, data)

    def go_down(self) -> None:
        self.up = False
        for client in self._clients:
            client.link(False, "The connection was lost; trying again.")

    def come_back(self) -> None:
        self.up = True
        for client in self._clients:
            self._welcome(client)

    def _welcome(self, client: FakeClient) -> None:
        client.link(True, "Listening.")
        for topic, data in self._retained.items():
            client.hear(topic, data, retained=True)


class FakeClient:
    """What `sensors.client.Client` is to the service, fed by hand or by a FakeBroker, all in the caller's thread."""

    def __init__(
        self, declared: Declared, intake: Intake, clock: Clock, broker: FakeBroker | None = None
    ) -> None:
        self.watch = Watch(clock)
        self.alive = False
        self.connected = False
        self._joined = Joined(declared)
        self._pipeline = Pipeline(self._joined, intake, self.watch)
        self.adopting = Adopting(self._pipeline.topics, lambda: self._joined, self.read_as)
        self._intake = intake
        self._clock = clock
        self._broker = broker

    def start(self) -> None:
        self.alive = True
        if self._broker is not None:
            self._broker.join(self)

    def stop(self) -> None:
        self.alive = False
        if self._broker is not None:
            self._broker.leave(self)

    def link(self, connected: bool, words: str) -> None:
        self.connected = connected
        self._intake.broker(connected, self._clock.now(), words)

    def read_as(self, joined: Joined) -> None:
        self._joined = joined
        self._pipeline.read_as(joined, self._clock.monotonic())

    def hear(self, topic: str, payload: str | bytes, retained: bool = False) -> None:
        """A message comes in now."""
        data = payload.encode() if isinstance(payload, str) else payload
        if any(match(topic_filter, topic) is not None for topic_filter in self._joined.filters):
            self._pipeline.take(Message(topic, data, self._clock.now(), self._clock.monotonic(), retained))
