"""How far evidence may lie off even a true life: the instrument, the hand, and that the model is not true.

All numbers are assumed; what they rest on stands beside them.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from service.learning.lives import Shown
from service.learning.probit import NO_WORD, Answer
from service.learning.story import Evidence, FaceRead, Redipped, Story, Weighed

Array = NDArray[np.float64]

LEAST_SCALE_KG, SCALE_SHARE = 0.005, 0.002
"""A hanging scale: its steps and a swinging load."""
FACE_K, GUN_K = 0.5, 0.7
"""One reading, and what a gun shows too much of every face of a mould: guns differ by about 1 K."""
HAND, HAND_LAPSES = 0.12, 0.05
"""A hand feels the face and not the depth: about where in saturation it draws the line, and how often it is wrong."""
HANDS_OWN = 0.05
"""By how much one pair of hands calls dry sooner or later than another."""
SHED_LATER, SHED, SHED_LAPSES = 0.10, 0.10, 0.03
"""A coat sheds when it was dipped over clearly wetter than its limit."""
MODEL_WATER_SHARE, MODEL_K, MODEL_SATURATION = 0.05, 0.4, 0.04
"""How far the drying law itself is off within one wait: of the water lost, in the face, in the newest coat."""
MODEL_HOLDS_S = 3 * 3600.0
"""So long it is off in the same direction: a hundred readings of one wait are no hundred proofs."""
TARE_KG = 100.0
"""Hook, wax and wire: never known, so as good as anything."""


def answer(evidence: Evidence, story: Story, coats: int) -> Answer | None:
    """A yes or no as such; None of what was measured."""
    if isinstance(evidence, Weighed | FaceRead):
        return None
    limit = story.dips[coats - 1].limits.ready_saturation
    if isinstance(evidence, Redipped):
        return Answer(evidence.shed, limit + SHED_LATER, SHED, SHED_LAPSES)
    return Answer(not evidence.dry, limit, HAND, HAND_LAPSES)


def variance(evidence: Evidence) -> float:
    """Of this piece alone. Of a yes or no: it says nothing until it is held against what the number may be."""
    if isinstance(evidence, Weighed):
        return max(LEAST_SCALE_KG, SCALE_SHARE * evidence.mass_kg) ** 2
    return FACE_K**2 if isinstance(evidence, FaceRead) else NO_WORD


def shared(story: Story, shown: Sequence[Shown]) -> Array:
    """Covariance (n, n) of what pieces of evidence have in common: the tare, the gun, the hand, the model."""
    evidence = story.evidence
    out = np.zeros((len(evidence), len(evidence)))
    for i, one in enumerate(evidence):
        for j, other in enumerate(evidence[: i + 1]):
            if type(one) is type(other):
                out[i, j] = out[j, i] = _always(story, i, j) + _model(story, shown, i, j)
    return out


def stretch(story: Story, at_s: float) -> int:
    """Between which two changes a weighing lies; only those of one stretch can be held against each other."""
    return int(np.searchsorted(story.changes_s, at_s))


def _always(story: Story, i: int, j: int) -> float:
    one, other = story.evidence[i], story.evidence[j]
    if isinstance(one, Weighed):
        return TARE_KG**2 if stretch(story, one.at_s) == stretch(story, other.at_s) else 0.0
    if isinstance(one, FaceRead):
        return GUN_K**2
    return 0.0 if isinstance(one, Redipped) else HANDS_OWN**2


def _model(story: Story, shown: Sequence[Shown], i: int, j: int) -> float:
    if shown[i].coats != shown[j].coats:
        return 0.0
    apart_s = abs(story.evidence[i].at_s - story.evidence[j].at_s)
    return _off(story, shown, i) * _off(story, shown, j) * float(np.exp(-apart_s / MODEL_HOLDS_S))


def _off(story: Story, shown: Sequence[Shown], i: int) -> float:
    if isinstance(story.evidence[i], Weighed):
        return MODEL_WATER_SHARE * shown[i].lost_kg
    return MODEL_K if isinstance(story.evidence[i], FaceRead) else MODEL_SATURATION
