"""What every way of telling looks like from here."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

from service.records.outbox import NewAlert, Outcome
from service.voice import Voice, voice


@dataclass(frozen=True, slots=True)
class Notice:
    """What is told: words for people, and the same as data for programs.

    key: the same each time the same message is tried. number: which attempt, from 1. repeat: an earlier attempt may
    have arrived. number_shown: what people may compare two messages by. alerts: what it is about, in dipping order.
    said_in: the voice of its words, for a way that has to add some.
    """

    title: str
    body: str
    key: str
    kind: str = ""
    number: int = 1
    repeat: bool = False
    number_shown: int | None = None
    alerts: tuple[NewAlert, ...] = ()
    said_in: Voice = field(default_factory=voice)


@dataclass(frozen=True, slots=True)
class Answer:
    """How an attempt ended. words: why it was not taken, without any address. retry_after_s: asked to wait so long.

    gone: refused, and it says itself that it will stay so.
    """

    outcome: Outcome
    words: str = ""
    retry_after_s: float | None = None
    gone: bool = False

    @property
    def taken(self) -> bool:
        return self.outcome is Outcome.TAKEN


TAKEN = Answer(Outcome.TAKEN)


class Notifier(Protocol):
    """Tells by one way. Never raises, and comes back within the time-out."""

    def send(self, notice: Notice) -> Answer:
        """Whether the message was taken, and if not, whether it may have arrived all the same."""

    def close(self) -> None:
        """Give up what is being sent, so that the service can stop."""
