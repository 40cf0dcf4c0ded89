"""What is in a mould's way in two or three words, for rows that are read across a room."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from service.local_time import ago, clock_time, seconds_between
from service.records.shop_facts import Site
from service.room.views import MouldNow, Stage
from service.voice import say
from service.words.due import WAITING, has_hour
from service.words.moulds import (
    frost_line,
    hand_check_line,
    least_wait_line,
    longest_wait_line,
    never_line,
    reckoned_dry,
    unmeasured_line,
)
from service.words.numbers import percent
from service.words.problems import problem_words


def brief(mould: MouldNow, site: Site | None, now: datetime) -> str:
    """What is most in the way: ``wires first``, ``dip before 16:00``. Empty where nothing is."""
    return next(_in_the_way(mould, site, now), "")


def _in_the_way(mould: MouldNow, site: Site | None, now: datetime) -> Iterator[str]:
    """The weightiest first."""
    if frost_line(mould):
        yield say("below freezing")
    if mould.wrong:
        yield say("look at it first: {problem}", problem=problem_words(mould.wrong[-1].problem))
    if _ends_before_it_is_ready(mould):
        yield from _too_long(mould, site, now)
    if hand_check_line(mould, site, now):
        yield say("felt still damp") if mould.hand_check == "still damp" else say("felt dry too soon")
    yield from _too_long(mould, site, now)
    if mould.never and never_line(mould):
        yield say("needs under {humidity}", humidity=percent(mould.never.needs_below))
    if mould.wires_due and mould.stage in WAITING:
        yield say("wires first")
    if mould.guessing_since and mould.stage in WAITING:
        yield say("no reading for {span}", span=ago(seconds_between(mould.guessing_since, now)))
    yield from _waited_for(mould, site, now)


def _ends_before_it_is_ready(mould: MouldNow) -> bool:
    longest, due = mould.longest_wait_until, mould.due_at
    return longest is not None and due is not None and longest < due


def _too_long(mould: MouldNow, site: Site | None, now: datetime) -> Iterator[str]:
    longest = mould.longest_wait_until
    if longest is None or not longest_wait_line(mould, site, now):
        return
    if longest <= now:
        yield say("past its longest wait")
    else:
        yield say("dip before {hour}", hour=clock_time(longest, site, now))


def _waited_for(mould: MouldNow, site: Site | None, now: datetime) -> Iterator[str]:
    least = mould.least_wait_until
    if least and least_wait_line(mould, site, now):
        yield say("not before {hour}", hour=clock_time(least, site, now))
    if mould.from_notebook and mould.stage is not Stage.ENDED:
        yield say("from the notebook")
    if mould.stage in WAITING and not has_hour(mould) and mould.never is None:
        yield say("no hour known")
    if unmeasured_line(mould, now):
        yield say("partly guessed")
    waits = mould.stage in WAITING and len(mould.zones) > 1 and not reckoned_dry(mould, now)
    if waits and mould.held_by:
        yield say("slowest: {place}", place=mould.held_by)
