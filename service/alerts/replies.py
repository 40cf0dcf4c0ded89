"""What somebody may say to a message, and which of it holds. Pure."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum

from service.records.outbox import AlertRow, ReplyRow


class Said(StrEnum):
    """What a tap on a message's link says."""

    ON_MY_WAY = "on my way"
    LATER = "later"
    TAKEN_BACK = "taken back"


HOLDS = (Said.ON_MY_WAY, Said.LATER)


def standing(alert: AlertRow, now: datetime) -> ReplyRow | None:
    """The newest word to this alert, while it holds; its `until` itself no longer does. None: nobody took it on."""
    newest = alert.replies[-1] if alert.replies else None
    if newest is None or newest.what not in HOLDS:
        return None
    return newest if newest.until is None or now < newest.until else None
