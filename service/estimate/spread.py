"""How sure an estimate is, after what the case says was heard of its mould."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.estimate.case import Case
from service.estimate.run import not_worked_out
from service.estimate.story import story_of
from service.estimate.ways import Ways
from service.learning.site import NOTHING_HEARD
from service.learning.smoother import MEMBERS, Heard, assimilate
from service.learning.when import quantile

Array = NDArray[np.float64]

SHARES = (0.1, 0.5, 0.9)


@dataclass(frozen=True, slots=True)
class Quantiles:
    """Seconds by which one in ten, half and nine in ten of the ways are there; None: so many never get there."""

    low: float | None
    middle: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class CoatSpread:
    """One coat of the mould, as ready as its slowest zone. ready: for the next dip, from its own on, if left alone.

    by_next_dip: the chance (0..1) that it is ready when the next goes on, where that has a time of its own. dry: the
    whole shell, from this dip on, after the last coat only.
    """

    number: int
    ready: Quantiles
    by_next_dip: float | None = None
    dry: Quantiles | None = None


@dataclass(frozen=True, slots=True)
class Spread:
    """dry_in_all: the whole shell, from the first dip on. heard: what the case tells, by time."""

    case: Case
    members: int
    coats: tuple[CoatSpread, ...]
    dry_in_all: Quantiles
    heard: tuple[Heard, ...]


def spread(case: Case, members: int = MEMBERS) -> Spread:
    """How sure an estimate of this case is. Raises BadInput as `run.estimate`."""
    story = story_of(case)
    try:
        (learnt,) = assimilate([story], [NOTHING_HEARD], case.air, case.parameters, members)
        ways, heard_s = Ways(case, story, learnt.x), max([0.0, *(piece.at_s for piece in story.evidence)])
        coats = tuple(_coats(case, ways, heard_s))
        dry_s = ways.dry_s()
    except FloatingPointError as error:
        raise not_worked_out(case) from error
    whole = replace(coats[-1], dry=_quantiles(dry_s - ways.dip_s))
    in_all = _quantiles(dry_s - story.dips[0].at_s)
    return Spread(case, members, (*coats[:-1], whole), in_all, learnt.heard)


def _coats(case: Case, ways: Ways, heard_s: float) -> Iterator[CoatSpread]:
    """Give one after the other: at its time, or when the one before is ready and all has been heard."""
    given, next_s = case.dips_s or (), ways.dip_s
    for number, plan in enumerate(case.coats, 1):
        ways.dip(next_s)
        ready_s, by_next = ways.ready_s(), None
        if number < len(given):
            next_s = np.full(ready_s.size, given[number])
            by_next = float(np.mean(ready_s <= next_s))
        else:
            next_s = np.maximum(np.maximum(ready_s, ways.dip_s + plan.least_wait_s), heard_s)
        yield CoatSpread(number, _quantiles(ready_s - ways.dip_s), by_next)


def _quantiles(takes_s: Array) -> Quantiles:
    return Quantiles(*(quantile(takes_s, share) for share in SHARES))
