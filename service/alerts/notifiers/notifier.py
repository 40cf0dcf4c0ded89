"""What every way of telling looks like from here."""

from __future__ import annotations

from typing import Protocol


class Notifier(Protocol):
    """Tells one recipient. Never raises, and comes back within the time-out."""

    def send(self, title: str, body: str, key: str) -> bool:
        """Whether the message was taken. `key` is the same each time the same message is tried."""

    def close(self) -> None:
        """Give up what is being sent, so that the service can stop."""
