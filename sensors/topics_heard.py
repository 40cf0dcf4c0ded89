"""The topics heard on the broker with the newest message of each, so that a shop can see what there is to read."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass

from sensors.decode import LARGEST_PAYLOAD
from sensors.message import Message
from sensors.topics import LONGEST

MOST_TOPICS = 300  # a runaway publisher must not fill the memory
LONGEST_TOPIC = LONGEST  # what is longer can be named in no pattern


@dataclass(slots=True)
class Topic:
    """taken: its newest message was read by something. live: how many came, but from the broker's memory."""

    newest: Message
    taken: bool = False
    live: int = 0
    first_s: float = 0.0

    @property
    def every_s(self) -> float | None:
        """How often it came so far; None: once."""
        return (self.newest.received_s - self.first_s) / (self.live - 1) if self.live > 1 else None


class TopicsHeard:
    """Written by the worker, read by everybody. Where there are too many, one that nobody reads makes room."""

    def __init__(self) -> None:
        self._topics: dict[str, Topic] = {}
        self._lock = threading.Lock()

    def note(self, message: Message, taken: bool) -> None:
        if len(message.topic) > LONGEST_TOPIC:
            return
        with self._lock:
            topic = self._topics.pop(message.topic, None) or self._room_for(message)
            topic.newest, topic.taken = _bounded(message), taken
            if not message.retained:
                topic.first_s = topic.first_s if topic.live else message.received_s
                topic.live += 1
            self._topics[message.topic] = topic  # the newest stand last

    def all(self) -> list[Topic]:
        """By name."""
        with self._lock:
            return sorted(self._topics.values(), key=lambda topic: topic.newest.topic)

    def get(self, name: str) -> Topic | None:
        with self._lock:
            return self._topics.get(name)

    def take(self, wanted: Callable[[Topic], bool]) -> list[Message]:
        """The newest messages that nothing has read yet, of those wanted; from now on they count as read."""
        with self._lock:
            found = [topic for topic in self._topics.values() if not topic.taken and wanted(topic)]
            for topic in found:
                topic.taken = True
            return [topic.newest for topic in found]

    def _room_for(self, message: Message) -> Topic:
        if len(self._topics) >= MOST_TOPICS:
            unread = (name for name, topic in self._topics.items() if not topic.taken)
            del self._topics[next(unread, next(iter(self._topics)))]
        return Topic(message)


def _bounded(message: Message) -> Message:
    """One too long to be read is kept as its start."""
    if len(message.payload) <= LARGEST_PAYLOAD:
        return message
    start = message.payload[:LARGEST_PAYLOAD]
    return Message(message.topic, start, message.received_at, message.received_s, message.retained)
