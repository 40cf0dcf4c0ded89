"""Messages about the machine's clock: bells ring by it, so people must know when it cannot be trusted."""

from __future__ import annotations

from datetime import datetime

from service.alerts.conditions import Condition
from service.alerts.keys import moment, stem
from service.alerts.kinds import Kind
from service.alerts.message import Message, spoken
from service.local_time import date_and_time, span
from service.records.shop_facts import Site
from service.voice import say

SUBJECT = "clock"


def clock_behind(last_known: datetime, now: datetime, site: Site | None, firing: bool) -> Condition:
    """It stands before what was recorded: nothing is worked out until it is set right. `firing`: for long enough."""
    return _about("behind", last_known, last_known, firing, _behind(last_known, now, site))


def clock_right_again(last_known: datetime, now: datetime) -> Condition:
    """What was told of it is over."""
    return _about("right", last_known, now, True, _right_again())


def clock_put(to: datetime, by_s: float, site: Site | None, now: datetime) -> Condition:
    """It was set by so much while coatbell ran."""
    message = (_put_forward if by_s > 0 else _put_back)(to, abs(by_s), site, now)
    return _about("put", to, to, True, message)


@spoken
def _behind(last_known: datetime, now: datetime, site: Site | None) -> Message:
    recorded = date_and_time(last_known, site, now)
    shown = date_and_time(now, site, last_known)
    lines = [
        say(
            "The clock of the machine that coatbell runs on shows {shown}, but something was recorded at "
            "{recorded} already",
            shown=shown,
            recorded=recorded,
        ),
        say("Until it is right nothing is worked out: go by the feel of it"),
        say("Set it right, or see that the machine reaches the network. If it is right, say so on the board"),
    ]
    return Message(say("The clock is wrong: no bell rings"), "\n".join(lines))


@spoken
def _right_again() -> Message:
    return Message(
        say("The clock is right again: bells ring"), say("What came ready meanwhile is told now, each once")
    )


@spoken
def _put_forward(to: datetime, by_s: float, site: Site | None, now: datetime) -> Message:
    by, at = span(by_s), date_and_time(to, site, now)
    lines = [
        say("The clock of the machine that coatbell runs on was put forward, to {at}", at=at),
        say(
            "If it was right before, set it back to what it was. If it was wrong, look at the times of "
            "today's dips: they may be wrong by {by}, and bells of what was dipped before may come too "
            "early by as much",
            by=by,
        ),
    ]
    return Message(say("The clock was put forward by {by}", by=by), "\n".join(lines))


@spoken
def _put_back(to: datetime, by_s: float, site: Site | None, now: datetime) -> Message:
    by, at = span(by_s), date_and_time(to, site, now)
    lines = [
        say("The clock of the machine that coatbell runs on was put back, to {at}", at=at),
        say(
            "If it was right before, set it back to what it was. If it was wrong, look at the times of "
            "today's dips: they may be wrong by {by}, and bells of what was dipped before may come too late "
            "by as much",
            by=by,
        ),
    ]
    return Message(say("The clock was put back by {by}", by=by), "\n".join(lines))


def _about(what: str, key_of: datetime, since: datetime, firing: bool, message: Message) -> Condition:
    key = stem(Kind.CLOCK_WRONG, what, moment(key_of))
    return Condition(Kind.CLOCK_WRONG, key, key, SUBJECT, since, firing, message)
