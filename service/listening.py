"""What is heard on the broker, and the small door through which a shop says what it means.

Messages are described as in `[[messages]]` of sensors.toml, by plain tables with the same keys.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any, Protocol

from service.reading import Quantity

Table = Mapping[str, Any]


class ReadBy(StrEnum):
    """What reads a topic."""

    FILE = "sensors.toml"
    OWN = "set up here"
    NOBODY = "nobody"
    PASSED_OVER = "passed over"


@dataclass(frozen=True, slots=True)
class TopicHeard:
    """A topic as it stands. every_s: how often it comes; None: heard once only.

    payload: the newest, shortened, fit to be shown. reads: whose quantities are in it. meant: a topic like it that
    would be read. retained: only the broker's memory of it was heard. adoptable: a pattern can name it.
    """

    topic: str
    payload: str
    at: datetime
    every_s: float | None
    retained: bool
    read_by: ReadBy
    reads: tuple[tuple[str, Quantity], ...] = ()
    meant: str | None = None
    adoptable: bool = True


@dataclass(frozen=True, slots=True)
class Guess:
    """A number in a message, and what it may be. quantity None: nothing that coatbell reads. part: of one board."""

    field: str | None
    sent: str
    quantity: Quantity | None
    unit: str
    part: str | None = None


@dataclass(frozen=True, slots=True)
class Proposal:
    """How a topic could be read: the name of its sensor, and the numbers in its newest message.

    read: as sensors.toml reads it now; empty where it does not.
    """

    heard: TopicHeard
    payload: str
    sensor: str
    guesses: tuple[Guess, ...]
    read: Table | None = None


@dataclass(frozen=True, slots=True)
class Tried:
    """What a description makes of the newest message: a value in SI, or the words why there is none.

    plausible: it lies where such a value can lie.
    """

    sensor: str | None
    quantity: Quantity | None
    field: str | None
    value: float | None
    plausible: bool
    words: str = ""


class Listening(Protocol):
    """Whoever listens to the broker."""

    def heard(self) -> Sequence[TopicHeard]:
        """Every topic that is remembered, by name."""

    def propose(self, topic: str) -> Proposal:
        """Raises NotFound where the topic was not heard."""

    def try_out(self, topic: str, table: Table) -> Sequence[Tried]:
        """One for each value of the description. Raises BadInput where it cannot be, NotFound as `propose`."""

    def check(self, table: Table) -> None:
        """Raises BadInput in the words of sensors.toml."""

    def read_so(self, tables: Sequence[Table]) -> None:
        """From the next message on, read these before sensors.toml; what cannot be read is left out."""
