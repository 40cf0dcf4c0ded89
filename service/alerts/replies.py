"""What somebody may say to a message, and which of it holds. Pure."""

from __future__ import annotations

from datetime import UTC, datetime
from enum import StrEnum

from service.records.outbox import AlertRow, ReplyRow
from service.records.plain import spelling


class Said(StrEnum):
    """What a tap on a message's link says."""

    ON_MY_WAY = "on my way"
    LATER = "later"
    TAKEN_BACK = "taken back"


HOLDS = (Said.ON_MY_WAY, Said.LATER)
FOR_EVER = datetime.max.replace(tzinfo=UTC)


def holds(reply: ReplyRow, now: datetime) -> bool:
    """Whether a word still holds; at its `until` itself no longer."""
    return reply.what in HOLDS and (reply.until is None or now < reply.until)


def last_word(alert: AlertRow, person: str) -> ReplyRow | None:
    """The newest thing this person said to this alert."""
    own = [reply for reply in alert.replies if spelling(reply.person) == spelling(person)]
    return own[-1] if own else None


def held(alert: AlertRow, now: datetime) -> list[ReplyRow]:
    """Everybody's newest word to this alert, while it holds, in the order in which they were said.

    One person's word takes back nobody else's.
    """
    newest = {spelling(reply.person): reply for reply in alert.replies}
    return sorted((r for r in newest.values() if holds(r, now)), key=lambda reply: reply.id)


def standing(alert: AlertRow, now: datetime) -> ReplyRow | None:
    """What speaks for this alert: who is on the way before who wants to be told later, then what holds longest.

    None: nobody took it on.
    """
    return max(held(alert, now), key=_weight, default=None)


def _weight(reply: ReplyRow) -> tuple[bool, datetime]:
    return reply.what == Said.ON_MY_WAY, reply.until or FOR_EVER
