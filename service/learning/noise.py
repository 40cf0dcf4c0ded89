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
HAND, HAND_LAPSES = 0.06, 0.05
"""A hand feels the face and not the depth: about where in saturation it draws the line, and how often it is wrong."""
HANDS_OWN = 0.04
"""By how much one pair of hands calls dry sooner or later than another."""
SHED_LATER, SHED, SHED_LAPSES = 0.25, 0.12, 0.03
"""How much wetter than its limit a coat must be to shed the next. As the model has it, coats laid each hour on 0.85,
which were found to be poor, and coats laid every two hours on 0.35, as good as later ones (Dooley & Everden, INCAST,
Nov 2020, pp. 20-21): the line lies somewhere between."""
MODEL_WATER_SHARE, MODEL_K, MODEL_SATURATION = 0.03, 0.4, 0.03
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
    apart_s = np.subtract.outer([one.at_s for one in evidence], [one.at_s for one in evidence])
    holds = np.exp(-np.abs(apart_s) / MODEL_HOLDS_S)
    always = _covariance(
        [_always(one) for one in evidence], [_one_and_the_same(story, one) for one in evidence]
    )
    off = [_off(one, what) for one, what in zip(evidence, shown, strict=True)]
    waits = [(type(one).__name__, what.coats) for one, what in zip(evidence, shown, strict=True)]
    return always + holds * _covariance(off, waits)


def _covariance(spreads: Sequence[float], alike: Sequence[tuple[str, int]]) -> Array:
    """Wholly shared by those that are alike."""
    same = np.array([[one == other for other in alike] for one in alike], bool).reshape(
        len(alike), len(alike)
    )
    out: Array = np.outer(spreads, spreads) * same
    return out


def stretch(story: Story, at_s: float) -> int:
    """Between which two changes a weighing lies; only those of one stretch can be held against each other."""
    return int(np.searchsorted(story.changes_s, at_s))


def _one_and_the_same(story: Story, evidence: Evidence) -> tuple[str, int]:
    """Which tare, gun or hand it was."""
    return type(evidence).__name__, stretch(story, evidence.at_s) if isinstance(evidence, Weighed) else 0


def _always(evidence: Evidence) -> float:
    if isinstance(evidence, Weighed):
        return TARE_KG
    if isinstance(evidence, FaceRead):
        return GUN_K
    return 0.0 if isinstance(evidence, Redipped) else HANDS_OWN


def _off(evidence: Evidence, shown: Shown) -> float:
    if isinstance(evidence, Weighed):
        return MODEL_WATER_SHARE * shown.lost_kg
    return MODEL_K if isinstance(evidence, FaceRead) else MODEL_SATURATION
