"""Who comes: what was said to a bell, in words."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from service.alerts.reply_views import Wanted
from service.listed import listed
from service.local_time import clock_time, span
from service.records.outbox import AlertRow
from service.records.shop_facts import Site
from service.room.views import Hand
from service.terms import term
from service.voice import later, say, say_many

ON_MY_WAY = later("on my way")


def hand_line(hand: Hand, site: Site | None, now: datetime) -> str:
    """``bench 1 is on the way, since 14:22``, ``bench 2: not now, rings again at 14:52``."""
    if hand.said == ON_MY_WAY:
        return say("{hand} is on the way, since {at}", hand=hand.name, at=clock_time(hand.at, site, now))
    if hand.until:
        return say(
            "{hand}: not now, rings again at {until}", hand=hand.name, until=clock_time(hand.until, site, now)
        )
    return say("{hand}: not now, rings again later", hand=hand.name)


def reply_lines(alert: AlertRow, site: Site | None, now: datetime) -> list[str]:
    """Everything that was said to a message: ``bench 1 said “on my way” at 14:22``."""
    return [
        say(
            "{person} said “{what}” at {time}",
            person=r.person,
            what=term(r.what),
            time=clock_time(r.at, site, now),
        )
        for r in alert.replies
    ]


def snooze_button(seconds: float) -> str:
    """``Ring again in 30 min``."""
    return say("Ring again in {seconds}", seconds=span(seconds))


def own_reply(wanted: Wanted, site: Site | None, now: datetime) -> str | None:
    """``You are on the way to Heron, since 14:22.`` None: this person said nothing that holds."""
    own = wanted.own
    if own is None:
        return None
    moulds = listed(wanted.moulds)
    if own.said == ON_MY_WAY:
        return say(
            "You are on the way to {moulds}, since {at}.", moulds=moulds, at=clock_time(own.at, site, now)
        )
    if own.until:
        until = clock_time(own.until, site, now)
        return say(
            "It rings again at {until} for {moulds}, unless somebody dips before.", until=until, moulds=moulds
        )
    return say("It rings again for {moulds}, unless somebody dips before.", moulds=moulds)


def seen_by(names: Sequence[str]) -> str:
    """``bench 2 sees it.``"""
    if not names:
        return say("The wall-board shows it.")
    return say_many("{names} sees it.", "{names} see it.", len(names), names=listed(names))


def called_to(wanted: Wanted) -> str:
    """``Heron and Curlew``: what the page behind a link is about."""
    return listed(wanted.moulds)
