"""Who comes: what was said to a bell, in words."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from service.alerts.reply_views import Wanted
from service.local_time import clock_time, span
from service.records.outbox import AlertRow
from service.records.shop_facts import Site
from service.room.views import Hand

ON_MY_WAY = "on my way"


def hand_line(hand: Hand, site: Site | None, now: datetime) -> str:
    """``bench 1 is on the way, since 14:22``, ``bench 2: not now, rings again at 14:52``."""
    if hand.said == ON_MY_WAY:
        return f"{hand.name} is on the way, since {clock_time(hand.at, site, now)}"
    when = f"at {clock_time(hand.until, site, now)}" if hand.until else "later"
    return f"{hand.name}: not now, rings again {when}"


def reply_lines(alert: AlertRow, site: Site | None, now: datetime) -> list[str]:
    """Everything that was said to a message: ``bench 1 said “on my way” at 14:22``."""
    return [f"{r.person} said “{r.what}” at {clock_time(r.at, site, now)}" for r in alert.replies]


def snooze_button(seconds: float) -> str:
    """``Ring again in 30 min``."""
    return f"Ring again in {span(seconds)}"


def own_reply(wanted: Wanted, site: Site | None, now: datetime) -> str | None:
    """``You are on the way to Heron, since 14:22.`` None: this person said nothing that holds."""
    own = wanted.own
    if own is None:
        return None
    moulds = _and(wanted.moulds)
    if own.said == ON_MY_WAY:
        return f"You are on the way to {moulds}, since {clock_time(own.at, site, now)}."
    when = f"rings again at {clock_time(own.until, site, now)}" if own.until else "rings again"
    return f"It {when} for {moulds}, unless somebody dips before."


def seen_by(names: Sequence[str]) -> str:
    """``bench 2 sees it.``"""
    if not names:
        return "The wall-board shows it."
    return f"{_and(names)} {'sees' if len(names) == 1 else 'see'} it."


def called_to(wanted: Wanted) -> str:
    """``Heron and Curlew``: what the page behind a link is about."""
    return _and(wanted.moulds)


def _and(names: Sequence[str]) -> str:
    return " and ".join(part for part in (", ".join(names[:-1]), names[-1]) if part)
