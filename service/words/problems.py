"""What is wrong with a shell while it is made, in sentences."""

from __future__ import annotations

from datetime import datetime

from service.local_time import clock_time
from service.records.facts import Problem
from service.records.shop_facts import Site
from service.room.views import MouldNow, Stage
from service.voice import later, say

PROBLEM_WORDS = {
    Problem.CRACK: later("Crack"),
    Problem.STUCCO_SHED: later("Stucco shed"),
    Problem.COAT_LIFTED: later("Coat lifted"),
    Problem.WAX_BROKEN: later("Wax broken"),
    Problem.DROPPED: later("Dropped"),
    Problem.SAGGED: later("Sagged or bent"),
    Problem.RUN_OUT: later("Run-out at dewax"),
    Problem.OTHER: later("Something else"),
}


def problem_words(problem: Problem) -> str:
    """``Stucco shed``."""
    return say(PROBLEM_WORDS[problem])


def problem_note(problem: Problem, over: bool, text: str) -> str:
    """``Wrong: crack: at the cup`` or ``Put right: crack: slurry dabbed on``."""
    what = problem_words(problem)
    if over and text:
        return say("Put right: {problem}: {remark}", problem=what, remark=text)
    if over:
        return say("Put right: {problem}", problem=what)
    if text:
        return say("Something is wrong: {problem}: {remark}", problem=what, remark=text)
    return say("Something is wrong: {problem}", problem=what)


def wrong_line(mould: MouldNow, site: Site | None, now: datetime) -> str | None:
    """``Crack, told at 14:20: at the cup. Look at it before the next dip``, of the newest; None: nothing is wrong."""
    if not mould.wrong or mould.stage is Stage.ENDED:
        return None
    newest = mould.wrong[-1]
    what, when = problem_words(newest.problem), clock_time(newest.at, site, now)
    if newest.text:
        return say(
            "{problem}, told at {time}: {remark}. Look at it first",
            problem=what,
            time=when,
            remark=newest.text,
        )
    return say("{problem}, told at {time}. Look at it first", problem=what, time=when)
