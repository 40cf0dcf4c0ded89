"""Many hidden shops worked out side by side, and what came of each.

In each round every shop asks for one thing; all shells that are to be dried are dried together, and all moulds that are
to be worked out likewise. Each shop has a stretch of time of its own, so that one series of air serves them all.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context

import numpy as np
from numpy.typing import NDArray

from service.drying.members import advance_members
from service.drying.weather import AirSeries
from service.drying.zone import Limits
from service.learning.smoother import assimilate
from tests.skill.air import as_measured, one_after_the_other, room_air
from tests.skill.bells import TIMER, Rung, best, clocks, rung, tuned_rung
from tests.skill.hanging import Hanging
from tests.skill.laws import USUAL
from tests.skill.life import DAY_S, AtWork, Dry, Forecast, Learn, Told, Wait
from tests.skill.shop import HOUR_S, SOUND, Shop
from tests.skill.truth import CLEARLY_WET, READY, TOO_WET, dry

Array = NDArray[np.float64]

DAYS_A_MOULD, SPARE_DAYS = 6, 12
DRIED_BELOW = 0.30
HORIZON_S = 96 * HOUR_S
TOGETHER = 50
"""Shops worked out side by side: more gain little and need memory."""
WET = {"above 0.35": READY, "above 0.40": TOO_WET, "above 0.55": CLEARLY_WET}
"""Any above the limit; too wet; clearly wet (see `truth`)."""
WHEN = ("prior", "first", "last")

Foretold = Callable[..., list[Told]]


@dataclass(frozen=True)
class Plan:
    """What is asked of a study."""

    shops: int = 100
    moulds: int = 40
    learn_from: int = 10
    seed: int = 1
    members: int = 32
    turns: int = 2
    own_times: float = 1.0
    weighed_every: int = 2


@dataclass(frozen=True)
class Score:
    """One shop's scored waits.

    errors (as shares of the wait), inside: by `WHEN`, (waits,); of the prior, and its bells `before`, those of every
    third mould. learned: bells from what was learned; surest: the same set to 95 %. timer, number: rules tuned to
    each limit of `WET`.
    """

    shop: int
    mismatch: str
    waits: int
    never: int
    errors: dict[str, Array]
    inside: dict[str, Array]
    before: Rung
    learned: Rung
    surest: Rung
    timer: dict[str, Rung]
    number: dict[str, Rung]
    names: dict[str, str]
    looks: int
    wait_h: float


def study(plan: Plan, processes: int = 1, told: Callable[[str], None] = lambda line: None) -> list[Score]:
    """All shops of the plan, in order. The same plan gives the same scores, to rounding also in more processes."""
    size = min(TOGETHER, -(-plan.shops // processes))
    groups = [range(n, min(n + size, plan.shops)) for n in range(0, plan.shops, size)]
    if processes == 1:
        return [score for group in groups for score in _group(plan, told, group)]
    with get_context("spawn").Pool(processes) as pool:
        return [score for scores in pool.imap(partial(_group, plan, told), groups) for score in scores]


def to_stderr(line: str) -> None:
    print(line, file=sys.stderr, flush=True)


def _group(plan: Plan, told: Callable[[str], None], numbers: Sequence[int]) -> list[Score]:
    began = time.monotonic()
    done = at_work(plan, numbers)
    told(f"shops {numbers[0] + 1} to {numbers[-1] + 1}: {time.monotonic() - began:.0f} s")
    return [score(work, air, plan.learn_from) for work, air in done]


def at_work(
    plan: Plan, numbers: Sequence[int], foretold: Foretold | None = None
) -> list[tuple[AtWork, AirSeries]]:
    """These shops at the end of their moulds, each with the air as its own sensor told it.

    foretold: instead of the service, gets what is asked and the air that is known.
    """
    shops = [Shop(number, plan.seed, plan.own_times, plan.weighed_every) for number in numbers]
    days = DAYS_A_MOULD * plan.moulds + SPARE_DAYS
    starts = [n * days * DAY_S for n in range(len(shops))]
    airs = [room_air(shop.draw(5), start, days) for shop, start in zip(shops, starts, strict=True)]
    seen = [as_measured(shop.draw(6), air) for shop, air in zip(shops, airs, strict=True)]
    true_air, known_air = one_after_the_other(airs), one_after_the_other(seen)
    working = [AtWork(shop, true_air, plan.moulds, plan.learn_from) for shop in shops]
    for work, start in zip(working, starts, strict=True):
        at_s = start + 8.0 * HOUR_S
        work.hang(Hanging(work, work.shop.mould(1)).life(at_s), at_s)
    ours = partial(foretell, members=plan.members, turns=plan.turns)
    learnt = partial(foretold or ours, air=known_air)
    run(working, partial(_dried, air=true_air), learnt)
    return list(zip(working, seen, strict=True))


def run(
    working: Sequence[AtWork],
    dried: Callable[[Sequence[Dry]], Sequence[object]],
    learnt: Callable[[Sequence[Learn]], Sequence[object]],
) -> None:
    """Rounds until every shop is done."""
    lives = [work.life() for work in working]
    answers: dict[int, object] = dict.fromkeys(range(len(lives)))
    while answers:
        asked = {}
        for n, answer in answers.items():
            try:
                asked[n] = lives[n].send(answer)
            except StopIteration:
                continue
        answers = {}
        for kind, answered in ((Dry, dried), (Learn, learnt)):
            theirs = {n: one for n, one in asked.items() if isinstance(one, kind)}
            if theirs:
                answers |= dict(zip(theirs, answered(list(theirs.values())), strict=True))


def _dried(asked: Sequence[Dry], air: AirSeries) -> list[object]:
    patches = [patch for one in asked for patch in one.patches]
    paths = iter(dry(patches, max(one.for_s for one in asked), air, DRIED_BELOW))
    return [[next(paths) for _ in one.patches] for one in asked]


def foretell(asked: Sequence[Learn], air: AirSeries, members: int, turns: int) -> list[Told]:
    """What the service makes of these moulds, and when their members will be ready in the air that comes."""
    stories, beliefs = [one.story for one in asked], [one.belief for one in asked]
    learnt = assimilate(stories, beliefs, air, USUAL, members, turns)
    zones = [zone for one in learnt for zone in one.now]
    limits = [Limits(READY, np.inf)] * len(zones)
    ends = [zone.time_s + HORIZON_S for zone in zones]
    done = iter(advance_members(zones, ends, air, USUAL, limits, stop_when_dry=True))
    told = []
    for one in learnt:
        coming = np.stack([next(done).ready_s for _ in one.now])
        ready = np.where(np.isnan(one.ready_s), coming, one.ready_s)
        told.append(
            Told(np.where(np.isnan(ready), one.now[0].time_s + HORIZON_S, ready).max(axis=0), one.site)
        )
    return told


def score(work: AtWork, known_air: AirSeries, learn_from: int) -> Score:
    """Moulds after the first `learn_from`, against the truth and the rules tuned with hindsight."""
    every = [wait for wait in work.waits if wait.mould > learn_from]
    waits = [wait for wait in every if np.isfinite(wait.ready_s)]
    learned = rung(waits, np.array([w.bell_s for w in waits]))
    numbers = clocks(known_air)
    timer, number, names = {}, {}, {}
    for name, limit in WET.items():
        timer[name] = tuned_rung(waits, numbers[TIMER], limit, learned)
        names[name], number[name] = best(waits, numbers, limit, learned)
    bare = [w for w in waits if w.prior]
    told = {
        "prior": (bare, [w.prior for w in waits if w.prior]),
        "first": (waits, [w.first for w in waits]),
        "last": (waits, [w.last for w in waits]),
    }
    return Score(
        work.shop.number,
        work.shop.mismatch,
        len(waits),
        len(every) - len(waits),
        {when: _errors(*each) for when, each in told.items()},
        {when: _inside(*each) for when, each in told.items()},
        rung(bare, np.array([max(w.prior.bell_s, w.least_s) for w in waits if w.prior])),
        learned,
        rung(waits, np.array([max(w.last.surest_s, w.bell_s) for w in waits])),
        timer,
        number,
        names,
        sum(w.looks for w in waits),
        float(np.mean([w.ready_s - w.dip_s for w in waits])) / HOUR_S,
    )


def _errors(waits: Sequence[Wait], told: Sequence[Forecast]) -> Array:
    """How far the middle lies off, as a share of the true wait; late is positive."""
    return np.array(
        [(f.middle_s - w.ready_s) / (w.ready_s - w.dip_s) for w, f in zip(waits, told, strict=True)]
    )


def _inside(waits: Sequence[Wait], told: Sequence[Forecast]) -> Array:
    """-1 where the truth came before the 10 % point, 1 where it came after the 90 % point, else 0."""
    ready = np.array([w.ready_s for w in waits])
    early, late = (np.array([getattr(f, name) for f in told]) for name in ("early_s", "late_s"))
    return np.where(ready < early, -1, np.where(ready > late, 1, 0))


def groups_of(scores: Sequence[Score]) -> dict[str, list[Score]]:
    """All together, those whose laws the model knows, and the others."""
    return {
        "all": list(scores),
        "no mismatch": [one for one in scores if one.mismatch == SOUND],
        "mismatch": [one for one in scores if one.mismatch != SOUND],
    } | {
        kind: [one for one in scores if one.mismatch == kind] for kind in ("diffusion", "isotherm", "uneven")
    }
