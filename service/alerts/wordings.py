"""Each person's own words: a message is recorded in the shop's voice, and kept in those of whoever chose another.

In memory only: what was told before a restart goes out as it is recorded.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from dataclasses import replace

from service.alerts.message import Message, spoken
from service.alerts.people import Person
from service.records.outbox import DeliveryRow, NewAlert
from service.voice import Voice, speaking, voice

log = logging.getLogger(__name__)

MOST_KEPT = 1000
"""So many messages, the newest (our choice): more than wait for anybody, and about a megabyte a voice."""


class Wordings:
    """voice_of: how somebody of that name is spoken to; of "": the shop's places."""

    def __init__(self, voice_of: Callable[[str], Voice] = lambda name: voice()) -> None:
        self._voice_of = voice_of
        self._kept: dict[str, dict[Voice, Message]] = {}

    def speaking_to(self, person: Person | None) -> AbstractContextManager[None]:
        """Speak to somebody as they chose. None: to a place, as the shop did."""
        return speaking(self._voice_of(person.name if person else ""))

    def keep(self, key: str, message: Message, people: Iterable[Person]) -> None:
        """Keep what is recorded under this key now as each of these people would be told it."""
        others = {self._voice_of(person.name) for person in people} - {voice()}
        said = {other: words for other in others if (words := _said(message, other))}
        self._kept.pop(key, None)
        if said:
            self._kept[key] = said
        if len(self._kept) > MOST_KEPT:
            del self._kept[next(iter(self._kept))]

    @spoken
    def of(self, alert: NewAlert) -> Message:
        """What a message says to whoever is spoken to now; as recorded, where nothing else is known."""
        return self._kept.get(alert.key, {}).get(voice()) or Message(alert.title, alert.body)

    def worded(self, delivery: DeliveryRow) -> DeliveryRow:
        """A delivery in the words of whoever is spoken to now."""
        message = self.of(delivery.alert)
        alert = replace(delivery.alert, title=message.title, body=message.body)
        return replace(delivery, alert=alert)


def _said(message: Message, other: Voice) -> Message | None:
    """None where it cannot be said so: it must go out all the same, in the shop's words."""
    try:
        with speaking(other):
            return replace(message.anew(), again=None)
    except Exception:
        log.exception("a message could not be said in %s", other)
        return None
