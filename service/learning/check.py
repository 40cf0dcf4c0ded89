"""Stories that cannot be: refused in words before anything is worked out."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from service.learning.story import Evidence, FaceRead, Felt, Redipped, Story, Weighed


def check(story: Story) -> None:
    """Raises ValueError if dips or evidence are out of order, beyond the story's end, or about what is not there."""
    if not story.zones or not story.dips:
        raise ValueError(f"mould {story.mould}: a story needs a zone and a dip")
    if not _rising([dip.at_s for dip in story.dips], strictly=True):
        raise ValueError(f"mould {story.mould}: each dip must come after the one before")
    if not _rising([evidence.at_s for evidence in story.evidence]):
        raise ValueError(f"mould {story.mould}: what was heard must be given in the order of its times")
    last_s = max([story.dips[-1].at_s, *(evidence.at_s for evidence in story.evidence)])
    if story.until_s < last_s:
        raise ValueError(f"mould {story.mould}: a dip or something heard lies beyond the story's end")
    for evidence in story.evidence:
        if fault := _fault(story, evidence):
            raise ValueError(f"mould {story.mould}, evidence {evidence.number}: {fault}")


def _rising(times: Sequence[float], strictly: bool = False) -> bool:
    return all(a < b or (a == b and not strictly) for a, b in pairwise(times))


def _fault(story: Story, evidence: Evidence) -> str | None:
    if isinstance(evidence, Weighed):
        good = np.isfinite(evidence.mass_kg) and evidence.mass_kg > 0.0
        return None if good else "a weight must be a number above zero"
    if isinstance(evidence, Redipped):
        good = 1 <= evidence.coat < len(story.dips)
        return None if good else f"nothing was laid on coat {evidence.coat}"
    if evidence.at_s < story.dips[0].at_s:
        return "before the first dip there is nothing to feel or to read"
    if isinstance(evidence, FaceRead) and not np.isfinite(evidence.temperature_k):
        return "a temperature must be a number"
    return _zone_fault(story, evidence)


def _zone_fault(story: Story, evidence: FaceRead | Felt) -> str | None:
    there = evidence.zone is None or 0 <= evidence.zone < len(story.zones)
    return None if there else f"there is no zone {evidence.zone}"
