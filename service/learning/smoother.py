"""One mould's whole life with all that was heard of it, and what that leaves of the doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.drying.members import MemberZone
from service.drying.shell import Parameters
from service.drying.weather import AirSeries
from service.learning.site import Belief, Site
from service.learning.story import Evidence, Story

Array = NDArray[np.float64]

MEMBERS = 64


@dataclass(frozen=True)
class Heard:
    """What one piece of evidence was held against.

    expected, spread: what all other evidence makes of it and its standard deviation, noise included, in its own unit
    (kg since the weighing before it, K; of a hand or a redip the probability 0..1 of what was said). surprise: how many
    spreads it lies off; signed where it has a sign. left_out: so far off that it counts for nothing.
    """

    evidence: Evidence
    expected: float
    spread: float
    surprise: float
    left_out: bool


@dataclass(frozen=True)
class Numbers:
    """The likeliest multipliers of one zone: at each dip (dips,), each coat (dips,), and its pocket."""

    transfer: Array
    sorptivity: Array
    diffusivity: Array
    thickness: Array
    stirring: float


@dataclass(frozen=True)
class Learnt:
    """What the smoother makes of a story.

    laid: each zone just after the newest dip; now: at the story's end. ready_s, dry_s: (zones, members), since when a
    member of a zone is at its limits, nan where not yet. numbers: the likeliest life, zone by zone.
    site: what it teaches about the shop (None: nothing heard). heard: by time.
    """

    laid: tuple[MemberZone, ...]
    now: tuple[MemberZone, ...]
    ready_s: Array
    dry_s: Array
    numbers: tuple[Numbers, ...]
    site: Site | None
    heard: tuple[Heard, ...]


def assimilate(
    stories: Sequence[Story],
    beliefs: Sequence[Belief],
    air: AirSeries,
    parameters: Parameters,
    members: int = MEMBERS,
) -> list[Learnt]:
    """Work these moulds of one air out together, each from what is thought of the shop without it.

    Same stories, same answer. Every story has at least one dip. Raises ValueError for one whose dips or evidence are
    not in order, FloatingPointError as `solver.advance`.
    """
    raise NotImplementedError
