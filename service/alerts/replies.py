"""What somebody may say to a message, and which of it holds. Pure."""

from __future__ import annotations

from datetime import UTC, datetime
from enum import StrEnum

from service.records.outbox import AlertRow, ReplyRow
from service.records.plain import spelling
from service.voice import later

COME_LINE = later("On my way: ")
"""What the line with the link to say so begins with."""


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


def newest_words(alert: AlertRow) -> list[ReplyRow]:
    """What each person said last."""
    return list(_by_person(alert).values())


def last_word(alert: AlertRow, person: str) -> ReplyRow | None:
    """The newest thing this person said to this alert."""
    return _by_person(alert).get(spelling(person))


def held(alert: AlertRow, now: datetime) -> list[ReplyRow]:
    """Everybody's newest word to this alert, while it holds, in the order in which they were said.

    One person's word takes back nobody else's.
    """
    return sorted((word for word in newest_words(alert) if holds(word, now)), key=lambda word: word.id)


def standing(alert: AlertRow, now: datetime) -> ReplyRow | None:
    """What speaks for this alert: who is on the way before who wants to be told later, then what holds longest.

    None: nobody took it on.
    """
    return max(held(alert, now), key=_weight, default=None)


def _by_person(alert: AlertRow) -> dict[str, ReplyRow]:
    return {spelling(reply.person): reply for reply in alert.replies}


def _weight(reply: ReplyRow) -> tuple[bool, datetime]:
    return reply.what == Said.ON_MY_WAY, reply.until or FOR_EVER
