"""A message as the broker handed it over."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from service.reading import Quantity, Reason, Rejected

KEPT_CHARACTERS = 200  # of a payload or topic that is kept to be looked at


@dataclass(frozen=True, slots=True)
class Message:
    """`received_at` is our clock, UTC; `received_s` our monotonic clock at the same moment."""

    topic: str
    payload: bytes
    received_at: datetime
    received_s: float
    retained: bool = False
    redelivered: bool = False

    def rejected(
        self, reason: Reason, words: str, sensor: str | None = None, quantity: Quantity | None = None
    ) -> Rejected:
        return Rejected(
            printable(self.topic),
            printable(self.payload[: 4 * KEPT_CHARACTERS].decode("utf-8", "replace")),
            self.received_at,
            reason,
            words,
            sensor,
            quantity,
        )


def printable(text: str) -> str:
    """The start of `text` with everything a database or a page could stumble over replaced."""
    cut = text if len(text) <= KEPT_CHARACTERS else text[: KEPT_CHARACTERS - 1] + "…"
    return "".join(c if c.isprintable() else " " for c in cut)
