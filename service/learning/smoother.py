"""One mould's whole life with all that was heard of it, and what that leaves of the doubt.

An ensemble smoother by iterated posterior linearisation (sources in `linear`): the members are played through their
lives, a line is laid through what they would have shown, what was thought before is updated by it, and members drawn
from what is thought now are played next, until nothing moves. The update always begins from what was thought before any
evidence, so nothing is counted twice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.drying.members import MemberZone
from service.drying.shell import Parameters
from service.drying.weather import AirSeries
from service.learning.check import check
from service.learning.draws import drawn
from service.learning.heard import Heard as Heard
from service.learning.likeliest import Numbers as Numbers
from service.learning.likeliest import learned_numbers as learned_numbers
from service.learning.likeliest import likeliest
from service.learning.linear import linearise
from service.learning.lives import Lived, play
from service.learning.prior import prior
from service.learning.site import Belief, Site
from service.learning.story import Story
from service.learning.teach import Taught, teach
from service.learning.unknowns import unknowns_of

Array = NDArray[np.float64]

MEMBERS = 64
MOST_TURNS = 4
"""So often the members are played, at most: each time but the first about what was learned from the time before."""
FURTHEST = 6.0
"""No member lies further off the plain model than so many spreads of the prior (our choice)."""
MOVES_LITTLE = 0.3
"""Learned enough: no unknown moved by more of its spread than this."""


@dataclass(frozen=True)
class Learnt:
    """What the smoother makes of a story.

    laid: each zone just after the newest dip; now: at the story's end. ready_s, dry_s: (zones, members), since when a
    member of a zone is at its limits, nan where not yet. numbers: the likeliest life, zone by zone.
    site: what it teaches about the shop (None: nothing heard). heard: by time. x: what each member is made of,
    (unknowns, members), in the order of `unknowns_of` the story.
    """

    laid: tuple[MemberZone, ...]
    now: tuple[MemberZone, ...]
    ready_s: Array
    dry_s: Array
    numbers: tuple[Numbers, ...]
    site: Site | None
    heard: tuple[Heard, ...]
    x: Array


def assimilate(
    stories: Sequence[Story],
    beliefs: Sequence[Belief],
    air: AirSeries,
    parameters: Parameters,
    members: int = MEMBERS,
    turns: int = MOST_TURNS,
) -> list[Learnt]:
    """Work these moulds of one air out together, each from what is thought of the shop without it.

    Same stories, same answer. Every story has at least one dip. Raises ValueError for one whose dips or evidence are
    not in order, or for fewer than two members or one turn; FloatingPointError as `solver.advance`.
    """
    if members < 2:
        raise ValueError("one member alone knows nothing of doubt: at least two are needed")
    if turns < 1:
        raise ValueError("members must be played once at least")
    for story in stories:
        check(story)
    cases = [_Case(story, belief, members) for story, belief in zip(stories, beliefs, strict=True)]
    for turn in range(turns):
        going = [case for case in cases if not case.settled]
        lives = play(
            [case.story for case in going],
            [case.unknowns for case in going],
            [case.x for case in going],
            air,
            parameters,
        )
        for case, lived in zip(going, lives, strict=True):
            case.hear(lived, last=turn + 1 == turns)
    return [case.learnt() for case in cases]


class _Case:
    """One mould between two plays: which members are to be played, and what came of the last ones."""

    lived: Lived

    def __init__(self, story: Story, belief: Belief, members: int) -> None:
        self.story, self.members = story, members
        self.unknowns = unknowns_of(story)
        self.before = self.unknowns.start(*belief.about(self.unknowns.effects))
        self.after = self.before
        _, plain = self.unknowns.start(*prior(self.unknowns.effects))
        self.furthest = FURTHEST * np.sqrt(np.diag(plain))
        self.x = self._members()
        self.settled = False
        self.taught: Taught | None = None

    def hear(self, lived: Lived, last: bool) -> None:
        """Holds what was heard against the lives, and draws the members to be played next if they differ."""
        self.lived = lived
        if not self.story.evidence:
            self.settled = True
            return
        line = linearise(self.story.evidence, self.lived.shown, self.unknowns, self.x)
        self.taught = teach(self.story, self.unknowns, self.before, self.lived.shown, line)
        moved = np.abs(self.taught.mean - self.after[0]) / np.sqrt(np.diag(self.taught.covariance))
        first = self.after is self.before
        self.after = self.taught.mean, self.taught.covariance
        self.settled = last or (not first and float(moved.max()) < MOVES_LITTLE)
        if not self.settled:
            self.x = self._members()

    def _members(self) -> Array:
        """Drawn from what is thought now; but nonsense that was heard takes nobody beyond what can be played."""
        return np.clip(drawn(*self.after, self.members), -self.furthest[:, None], self.furthest[:, None])

    def learnt(self) -> Learnt:
        taught = self.taught
        return Learnt(
            self.lived.laid,
            self.lived.now,
            self.lived.ready_s,
            self.lived.dry_s,
            likeliest(self.unknowns, self.after[0]),
            taught.site if taught else None,
            taught.heard if taught else (),
            self.x,
        )
