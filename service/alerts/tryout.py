"""A test message by one way, and how it went."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from service.alerts.notifiers.notifier import Answer, Notice
from service.alerts.telling import tell
from service.alerts.ways import Way
from service.voice import later, say

TITLE = later("coatbell: a test")
BODY = later("If you can read this, alerts will reach you this way.")
KIND = "test"


@dataclass(frozen=True, slots=True)
class TriedOut:
    """How a test went by one way."""

    way: Way
    answer: Answer

    @property
    def line(self) -> str:
        """One sentence for whoever asked for it."""
        to, way = self.way.recipient, self.way.name
        by = say("{to} by {way}", to=to, way=way) if way != to else to
        if self.answer.taken:
            return say("{by}: taken", by=by)
        words = say(self.answer.words) or say("nothing more is known")
        return say("{by}: not taken: {words}. Look at its address on the page “Set-up”", by=by, words=words)


def try_out(way: Way, at: datetime) -> TriedOut:
    """Send a test by this way."""
    return TriedOut(way, tell(way, a_test(at)))


def a_test(at: datetime) -> Notice:
    """What is sent, in the words of whoever is spoken to now."""
    return Notice(say(TITLE), say(BODY), f"test-message/{at:%Y-%m-%dT%H:%M:%SZ}", KIND)
