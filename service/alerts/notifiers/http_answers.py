"""What an HTTP answer says about a message: whether it was kept, and when to come again (RFC 9110)."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from http import HTTPStatus

from service.alerts.notifiers.notifier import TAKEN, Answer
from service.records.outbox import Outcome
from service.voice import say

GONE = 410
REFUSED = frozenset({400, 401, 403, 404, 405, GONE})
"""Says of itself that it is the request that is wrong (RFC 9110 section 15.5): it will be as wrong the next time."""
LATER = frozenset({408, 425, 429, 503})
"""Asks to come again: sections 15.5.9 and 15.6.4, RFC 8470 section 5.2, RFC 6585 section 4."""
MOST_DIGITS = 9


def judge(status: int, retry_after_s: float | None = None) -> Answer:
    """What became of a message that was answered with this status. An error over there may come after keeping it."""
    if 200 <= status <= 299:
        return TAKEN
    words = answered(status)
    if status in REFUSED:
        return Answer(Outcome.REFUSED, words, gone=status == GONE)
    if status in LATER:
        return Answer(Outcome.LATER, words, retry_after_s)
    return Answer(Outcome.UNCLEAR, words)


def answered(status: int) -> str:
    """``answered 404 (Not Found)``"""
    try:
        return say("answered {status} ({phrase})", status=status, phrase=HTTPStatus(status).phrase)
    except ValueError:
        return say("answered {status}", status=status)


def retry_after_s(field: str | None, date: str | None, now: datetime) -> float | None:
    """How many seconds a `Retry-After` field asks to wait, 0 for a time that is past. None: nothing that can be read.

    Both forms of RFC 9110 section 10.2.3. A date is held against the answer's own `date` if it has one, since one of
    the two clocks may be wrong; else against `now`.
    """
    text = (field or "").strip()
    if re.fullmatch(r"[0-9]+", text):
        return float(text[-MOST_DIGITS:]) if len(text) <= MOST_DIGITS else 10.0**MOST_DIGITS
    until = _date(text)
    if until is None:
        return None
    return max((until - (_date(date) or now)).total_seconds(), 0.0)


def _date(text: str | None) -> datetime | None:
    """An HTTP date in any of its three formats (section 5.6.7), each of them UTC."""
    try:
        read = parsedate_to_datetime(text or "")
    except (ValueError, IndexError, OverflowError):
        return None
    return read.replace(tzinfo=UTC) if read.tzinfo is None else read
