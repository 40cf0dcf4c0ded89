"""Dipping in words: what a phone remembers, and what a session at one tank records."""

from __future__ import annotations

from datetime import datetime

from service.alerts.dipping_session import AtTank
from service.local_time import clock_time
from service.records.shop_facts import Site
from service.room.views import MouldNow
from service.voice import say, say_many
from service.words.due import due_range
from service.words.moulds import coats_on, tank_words


def dip_remembered(tank: str, hand: str, minutes_ago: str = "") -> str:
    """What *Dipped* records besides: ``From the grey tank, bench 1, now``."""
    when = say("{number} min ago", number=minutes_ago) if minutes_ago else say("now")
    if hand:
        return say("From {tank}, {hand}, {when}", tank=tank_words(tank), hand=hand, when=when)
    return say("From {tank}, nobody named, {when}", tank=tank_words(tank), when=when)


def dipped_button(number: int) -> str:
    """``Dipped 3 moulds``."""
    return say_many("Dipped {number} mould", "Dipped {number} moulds", number)


def at_tank_line(at: AtTank, site: Site | None, now: datetime) -> str:
    """``3 ready``, ``none ready, the next about 14:20, surely by 15:10``, ``nothing hangs here for it``."""
    if at.ready:
        return say_many("{number} ready", "{number} ready", len(at.ready))
    in_doubt = due_range(at.not_yet[0], site, now) if at.not_yet else None
    if in_doubt:
        return say("none ready, the next {when}", when=in_doubt)
    if at.next_at is not None:
        return say("none ready, the next at {time}", time=clock_time(at.next_at, site, now))
    return say("none ready, and no hour for the next") if at.not_yet else say("nothing hangs here for it")


def left_line(mould: MouldNow, site: Site | None, now: datetime) -> str:
    """``Dewaxed 14:20, 8 of 8 coats on. Result of 16:00``."""
    outcome = (mould.outcome or "").capitalize()
    when = clock_time(mould.ended_at, site, now) if mould.ended_at else ""
    said = f"{outcome} {when}, {coats_on(mould)}"
    if mould.result_at is None:
        return said
    return say(
        "{how_it_left}. Result of {time}", how_it_left=said, time=clock_time(mould.result_at, site, now)
    )
