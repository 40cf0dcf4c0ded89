"""Messages about the machine's clock: bells ring by it, so people must know when it cannot be trusted."""

from __future__ import annotations

from datetime import datetime

from service.alerts.conditions import Condition
from service.alerts.keys import moment, stem
from service.alerts.kinds import Kind
from service.alerts.messages import Message
from service.local_time import date_and_time, span
from service.records.shop_facts import Site

SUBJECT = "clock"


def clock_behind(last_known: datetime, now: datetime, site: Site | None, firing: bool) -> Condition:
    """It stands before what was recorded: nothing is worked out until it is set right. `firing`: for long enough."""
    recorded = date_and_time(last_known, site, now)
    message = Message(
        "The clock is wrong: no bell rings",
        f"The clock of the machine that coatbell runs on shows {date_and_time(now, site, last_known)}, but something "
        f"was recorded at {recorded} already\nUntil it is right nothing is worked out: go by the feel of it\n"
        "Set it right, or see that the machine reaches the network. If it is right, say so on the board",
    )
    return _about("behind", last_known, last_known, firing, message)


def clock_right_again(last_known: datetime, now: datetime) -> Condition:
    """What was told of it is over."""
    message = Message(
        "The clock is right again: bells ring", "What came ready meanwhile is told now, each once"
    )
    return _about("right", last_known, now, True, message)


def clock_put(to: datetime, by_s: float, site: Site | None, now: datetime) -> Condition:
    """It was set by so much while coatbell ran."""
    way, off = ("forward", "early") if by_s > 0 else ("back", "late")
    by, at = span(abs(by_s)), date_and_time(to, site, now)
    message = Message(
        f"The clock was put {way} by {by}",
        f"The clock of the machine that coatbell runs on was put {way}, to {at}\n"
        f"If it was right before, set it back to what it was. If it was wrong, look at the times of today's dips: they "
        f"may be wrong by {by}, and bells of what was dipped before may come too {off} by as much",
    )
    return _about("put", to, to, True, message)


def _about(what: str, key_of: datetime, since: datetime, firing: bool, message: Message) -> Condition:
    key = stem(Kind.CLOCK_WRONG, what, moment(key_of))
    return Condition(Kind.CLOCK_WRONG, key, key, SUBJECT, since, firing, message)
