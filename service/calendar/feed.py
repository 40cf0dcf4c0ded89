"""The calendar as phones fetch it: its secret address, and what stands there now."""

from __future__ import annotations

import hashlib
import hmac
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from service.calendar.ics import ics
from service.calendar.key import Key, secret_of
from service.calendar.plan import planned
from service.calendar.revisions import SECOND, Revisions
from service.room.views import Board
from service.voice import say


@dataclass(frozen=True, slots=True)
class Feed:
    """What a phone gets. `etag` changes with every byte; `changed_at`: when it last did, as far as was asked."""

    body: bytes
    etag: str
    changed_at: datetime


class CalendarFeed:
    """Asked from many threads. Raises Unavailable where the key of its address cannot be read."""

    def __init__(
        self, key: Key, link_base: str, board: Callable[[], Board], now: Callable[[], datetime]
    ) -> None:
        self._key, self._link_base, self._board, self._now = key, link_base, board, now
        self._lock = threading.Lock()
        self._revisions = Revisions()
        self._newest: Feed | None = None

    def address(self) -> str:
        """Where a phone subscribes. Whoever has it can read the plan, without the shop key."""
        return f"{self._link_base}/calendar/{secret_of(self._key.key())}.ics"

    def renew(self) -> str:
        """A new address; the old one is dead from now on."""
        self._key.renew()
        return self.address()

    def fetch(self, secret: str) -> Feed | None:
        """The calendar, or None where that is not its address."""
        right = hmac.compare_digest(secret.encode(), secret_of(self._key.key()).encode())
        return self._feed() if right else None

    def _feed(self) -> Feed:
        with self._lock:
            board, now = self._board(), self._now()
            body = ics(self._revisions.note(planned(board), now), _name(board), self._link_base)
            self._newest = _newer(self._newest, body, now.replace(microsecond=0))
            return self._newest


def _newer(before: Feed | None, body: bytes, now: datetime) -> Feed:
    if before is not None and before.body == body:
        return before
    changed_at = max(now, before.changed_at + SECOND) if before else now
    return Feed(body, hashlib.sha256(body).hexdigest()[:32], changed_at)


def _name(board: Board) -> str:
    shop = board.site.name if board.site else "coatbell"
    demo = say("Demo: ") if board.demo else ""
    return demo + say("{shop}, coming dips", shop=shop)
