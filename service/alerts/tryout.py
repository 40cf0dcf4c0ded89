"""A test message by one way, and how it went."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from service.alerts.notifiers.notifier import Answer, Notice
from service.alerts.telling import tell
from service.alerts.ways import Way

TITLE = "coatbell: a test"
BODY = "If you can read this, alerts will reach you this way."
KIND = "test"


@dataclass(frozen=True, slots=True)
class TriedOut:
    """How a test went by one way."""

    way: Way
    answer: Answer

    @property
    def line(self) -> str:
        """One sentence for whoever asked for it."""
        by = f" by {self.way.name}" if self.way.name != self.way.recipient else ""
        if self.answer.taken:
            return f"{self.way.recipient}{by}: taken"
        words = self.answer.words or "nothing more is known"
        return f"{self.way.recipient}{by}: not taken: {words}. Look at its address on the page “Set-up”"


def try_out(way: Way, at: datetime) -> TriedOut:
    """Send a test by this way."""
    key = f"test-message/{at:%Y-%m-%dT%H:%M:%SZ}"
    return TriedOut(way, tell(way, Notice(TITLE, BODY, key, KIND)))
