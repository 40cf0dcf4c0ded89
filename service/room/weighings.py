"""Weights measured against worked out. What is compared are differences between weighings of the same mould.

The scale weighs wax, hook and shell together, and nobody knows the area of a shell: so the loss of weight between two
weighings with neither a dip nor wire between them is held against the water that was worked out to leave each square
metre, and one area is sought that fits all such pairs best (least squares through nought). With that area the other
pairs are worked out as well. One such pair alone always fits: it gives the area and proves nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from itertools import pairwise

import numpy as np

from service.records.facts import Fact, WeightBody, live
from service.room.audit_views import WeighedPair, Weighings
from service.room.progress import Progress
from service.room.waits import Wait, face_m2

LEAST_KG_M2 = 0.01
"""Pairs between which less water left than this say nothing of the area: a scale could not tell (our choice)."""


def weighings(p: Progress, facts: Sequence[Fact], waits: Sequence[Wait]) -> Weighings | None:
    """Pair by pair; None if it was weighed less than twice."""
    weighed = [fact for fact in live(list(facts)) if isinstance(fact.body, WeightBody)]
    if len(weighed) < 2:
        return None
    pairs = [_pair(p, one, other, waits) for one, other in pairwise(weighed)]
    plain = [pair for pair in pairs if _fits(pair)]
    area = _best_area(plain)
    return Weighings(
        tuple(_over(pair, area) for pair in pairs), area, len(plain), sum(face_m2(z) for z in p.body.zones)
    )


def _pair(p: Progress, one: Fact, other: Fact, waits: Sequence[Wait]) -> WeighedPair:
    assert isinstance(one.body, WeightBody)
    assert isinstance(other.body, WeightBody)
    before, after = _shell_kg_m2(waits, one.at), _shell_kg_m2(waits, other.at)
    return WeighedPair(
        since=one.at,
        until=other.at,
        measured_kg=other.body.mass_kg - one.body.mass_kg,
        computed_kg_m2=None if before is None or after is None else after - before,
        computed_kg=None,
        coats=tuple(n for n, dip in enumerate(p.dips, 1) if one.at <= dip.at < other.at),
        wires=any(one.at <= wire.at < other.at for wire in p.wires),
    )


def _fits(pair: WeighedPair) -> bool:
    return not pair.coats and not pair.wires and (pair.computed_kg_m2 or 0.0) <= -LEAST_KG_M2


def _best_area(pairs: Sequence[WeighedPair]) -> float | None:
    """Least squares through nought; None where the scale says that nothing left."""
    lost = [(pair.measured_kg, pair.computed_kg_m2 or 0.0) for pair in pairs]
    squares = sum(computed * computed for _, computed in lost)
    area = sum(measured * computed for measured, computed in lost) / squares if squares else 0.0
    return area if area > 0.0 else None


def _over(pair: WeighedPair, area_m2: float | None) -> WeighedPair:
    if area_m2 is None or pair.computed_kg_m2 is None or pair.wires:
        return pair
    return replace(pair, computed_kg=pair.computed_kg_m2 * area_m2)


def _shell_kg_m2(waits: Sequence[Wait], at: datetime) -> float | None:
    """Coats and water a square metre at a time; a dip at that very moment is still to come. None: not worked out."""
    at_s = at.timestamp()
    if not waits or at_s <= waits[0].start_s:
        return 0.0
    wait = max((wait for wait in waits if wait.start_s < at_s), key=lambda wait: wait.start_s)
    if not wait.moments:
        return None
    times = [moment.at_s for moment in wait.moments]
    return float(np.interp(at_s, times, [moment.shell_kg_m2 for moment in wait.moments]))
