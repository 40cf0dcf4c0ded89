"""Which topics of the broker carry which readings, as a shop says it in the browser."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol

from service.clock import Clock
from service.errors import Conflict, NotFound
from service.listening import Listening, Proposal, Table, TopicHeard, Tried
from service.records.set_up import Part, SetUp
from service.voice import say


@dataclass(frozen=True, slots=True)
class TopicNow:
    """A topic that was heard since the start, that was set up here, or both."""

    topic: str
    heard: TopicHeard | None
    own: SetUp | None


class Kept(Protocol):
    """Where what was set up is kept."""

    def set_up(self, part: Part) -> list[SetUp]: ...

    def keep_set_up(self, part: Part, name: str, body: Table | None, hand: str = "") -> SetUp: ...

    def hear_sensor(self, name: str, at: datetime) -> None: ...


class NobodyListens:
    """Stands in where coatbell looks at records without a broker."""

    def heard(self) -> Sequence[TopicHeard]:
        return ()

    def propose(self, topic: str) -> Proposal:
        raise NotFound("topic_unknown", say("Nothing is listened to."), say("Start coatbell."), "topic")

    def try_out(self, topic: str, table: Table) -> Sequence[Tried]:
        return ()

    def check(self, table: Table) -> None:
        """Nobody reads it."""

    def read_so(self, tables: Sequence[Table]) -> None:
        """Nobody does."""


class TopicDesk:
    """Asked and told by pages. place: says in which room a sensor hangs, as Shop.place_sensor."""

    def __init__(
        self, kept: Kept, listening: Listening, clock: Clock, place: Callable[[str, int | None], None]
    ) -> None:
        self._kept, self._listening, self._clock, self._place = kept, listening, clock, place
        self._changing = threading.Lock()  # or of two at once the older list might be read last

    def now(self) -> list[TopicNow]:
        """By name."""
        heard = {one.topic: one for one in self._listening.heard()}
        own = {_topic(said): said for said in self._kept.set_up(Part.MESSAGES)}
        return [TopicNow(topic, heard.get(topic), own.get(topic)) for topic in sorted({*heard, *own})]

    def propose(self, topic: str) -> Proposal:
        """How it could be read. Raises NotFound where it was not heard since the start."""
        return self._listening.propose(topic)

    def try_out(self, topic: str, table: Table) -> list[Tried]:
        """What would become of its newest message. Raises BadInput where the table cannot be."""
        return list(self._listening.try_out(topic, table))

    def adopt(self, topic: str, table: Table, room_id: int | None, hand: str) -> None:
        """Read it so from now on, and hang its sensor there. Raises BadInput, Conflict, NotFound."""
        self._listening.check(table)
        tried = self.try_out(topic, table)
        with self._changing:
            self._check_alone(topic, tried)
            self._kept.keep_set_up(Part.MESSAGES, topic, dict(table), hand)
            self._follow()
        for name in sorted({one.sensor for one in tried if one.sensor}):
            self._kept.hear_sensor(name, self._clock.now())
            self._place(name, room_id)

    def forget(self, topic: str, hand: str, take_down: bool = False) -> None:
        """Read it as sensors.toml says again, or not at all. take_down: its sensors are gone from their rooms, too."""
        own = next((said for said in self._kept.set_up(Part.MESSAGES) if _topic(said) == topic), None)
        if own is None:
            raise NotFound(
                "topic_not_set_up",
                say("“{topic}” was not set up here.", topic=topic),
                say("What stands in sensors.toml is changed in that file."),
                "topic",
            )
        with self._changing:
            self._kept.keep_set_up(Part.MESSAGES, own.name, None, hand)
            self._follow()
        for name in names_in(own.body or {}) if take_down else ():
            self._kept.hear_sensor(name, self._clock.now())
            self._place(name, None)

    def _follow(self) -> None:
        self._listening.read_so([said.body for said in self._kept.set_up(Part.MESSAGES) if said.body])

    def _check_alone(self, topic: str, tried: Sequence[Tried]) -> None:
        """Two sensors of one name would be taken for one that jumps."""
        wanted = {(one.sensor, one.quantity) for one in tried}
        for other in self._listening.heard():
            if other.topic != topic and (both := wanted.intersection(other.reads)):
                sensor = next(iter(both))[0]
                raise Conflict(
                    "sensor_name_taken",
                    say("“{sensor}” sends the same on {topic} already.", sensor=sensor, topic=other.topic),
                    say("Give this one another name."),
                    "sensor",
                )


def names_in(table: Table) -> list[str]:
    """The sensors that a table names itself."""
    sensor, values = table.get("sensor"), table.get("values", ())
    parts = [value.get("part") for value in values]
    return sorted({f"{sensor} {part}" if part else str(sensor) for part in parts}) if sensor else []


def _topic(said: SetUp) -> str:
    body: dict[str, Any] = said.body or {}
    return str(body.get("pattern", said.name))
