"""Each piece of evidence beside what everything else makes of it, for whoever wants to see why it counts or not."""

from __future__ import annotations

import math
from dataclasses import dataclass

from service.learning.noise import stretch
from service.learning.story import Evidence, FaceRead, Story, Weighed
from service.learning.update import Pieces, Settled


@dataclass(frozen=True)
class Heard:
    """What one piece of evidence was held against.

    expected, spread: what all other evidence makes of it and its standard deviation, noise included, in its own unit
    (kg since the weighing before it, K; of a hand or a redip the probability 0..1 of what was said). surprise: how many
    spreads it lies off; signed where it has a sign, of a yes or no 0 where it was the likelier one. left_out: so far
    off that it counts for nothing.
    measured: what was heard in the terms of `expected`; nan of a yes or no. against: number of the weighing a weighing
    is held against: the last one that counts before it in its stretch, else the first after it. Where there is neither
    it can say nothing: expected, spread and measured are nan.
    """

    evidence: Evidence
    expected: float
    spread: float
    surprise: float
    left_out: bool
    measured: float = math.nan
    against: int | None = None


def held_against(story: Story, pieces: Pieces, settled: Settled) -> tuple[Heard, ...]:
    """What each piece of the story's evidence was held against, in their order."""
    return tuple(_heard(story, pieces, settled, i) for i in range(len(story.evidence)))


def _heard(story: Story, pieces: Pieces, settled: Settled, i: int) -> Heard:
    evidence, judged = story.evidence[i], settled.judged[i]
    surprise, left_out = settled.surprises[i], not bool(settled.kept[i])
    spread = math.sqrt(judged.variance + float(pieces.noise[i]))
    if isinstance(evidence, FaceRead):
        return Heard(evidence, judged.mean, spread, surprise, left_out, evidence.temperature_k)
    if isinstance(evidence, Weighed):
        other = _other(story, settled, evidence, i)
        if other is None:
            return Heard(evidence, math.nan, math.nan, 0.0, left_out)
        expected, measured = judged.mean - other.mass_kg, evidence.mass_kg - other.mass_kg
        return Heard(evidence, expected, spread, surprise, left_out, measured, other.number)
    answer = pieces.answers[i]
    share = answer.plainly(judged.mean, judged.variance) if answer else math.nan
    return Heard(evidence, share, math.sqrt(share * (1.0 - share)), surprise, left_out)


def _other(story: Story, settled: Settled, weighed: Weighed, i: int) -> Weighed | None:
    """The weighing that this one is held against."""
    mine = stretch(story, weighed.at_s)
    there = [
        (n, one)
        for n, one in enumerate(story.evidence)
        if n != i and settled.kept[n] and isinstance(one, Weighed) and stretch(story, one.at_s) == mine
    ]
    before = [one for n, one in there if n < i]
    after = [one for n, one in there if n > i]
    return next(iter([*before[-1:], *after[:1]]), None)
