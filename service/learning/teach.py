"""What all that was heard of one mould makes of its unknowns, and what it teaches about the shop."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.learning.heard import Heard, held_against
from service.learning.linear import Linear
from service.learning.lives import Shown
from service.learning.noise import answer, shared, stretch, variance
from service.learning.site import Site
from service.learning.story import Evidence, FaceRead, Story, Weighed
from service.learning.unknowns import Unknowns
from service.learning.update import Pieces, settle, update

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Taught:
    """Mean (d,) and covariance (d, d) of a mould's unknowns once it was heard; the rest as in `smoother.Learnt`."""

    mean: Array
    covariance: Array
    site: Site | None
    heard: tuple[Heard, ...]


@dataclass(frozen=True)
class Observed:
    """What counts of the evidence: off = slope @ x + noise of covariance `spread`; (n,), (n, d), (n, n)."""

    off: Array
    slope: Array
    spread: Array


def teach(
    story: Story, unknowns: Unknowns, before: tuple[Array, Array], shown: Sequence[Shown], line: Linear
) -> Taught:
    """before: mean and covariance of the unknowns, whatever the line was drawn about."""
    mean, covariance = before
    line = replace(line, constant=line.constant + _tares(story, line.constant + line.slope @ mean))
    apart = line.left_over + shared(story, shown)
    pieces = Pieces(
        line.constant + line.slope @ mean,
        line.slope @ covariance @ line.slope.T + apart,
        np.array([_value(one) for one in story.evidence]),
        np.array([variance(one) for one in story.evidence]),
        tuple(answer(one, story, what.coats) for one, what in zip(story.evidence, shown, strict=True)),
    )
    settled = settle(pieces)
    kept = settled.kept
    observed = Observed(
        (settled.values - line.constant)[kept],
        line.slope[kept],
        apart[np.ix_(kept, kept)] + np.diag(settled.noise[kept]),
    )
    counted = [one for one, counts in zip(story.evidence, kept, strict=True) if counts]
    after = update(mean, covariance, observed.slope, observed.off, observed.spread)
    heard = held_against(story, pieces, settled)
    return Taught(*after, site_of(story, unknowns, observed, counted), heard)


def site_of(story: Story, unknowns: Unknowns, observed: Observed, counted: Sequence[Evidence]) -> Site | None:
    """What was observed as a factor on the shop's effects alone: what is the mould's own is integrated out."""
    if not counted:
        return None
    shop = len(unknowns.effects)
    mine = observed.slope[:, shop:]
    spread = observed.spread + (mine * unknowns.own**2) @ mine.T
    weighed = np.linalg.solve(spread, np.column_stack([observed.slope[:, :shop], observed.off]))
    precision = observed.slope[:, :shop].T @ weighed[:, :shop]
    return Site(
        story.mould,
        unknowns.effects,
        0.5 * (precision + precision.T),
        observed.slope[:, :shop].T @ weighed[:, shop],
        max(one.at_s for one in counted),
        tuple(sorted(Counter(type(one).__name__ for one in counted).items())),
    )


def _value(evidence: Evidence) -> float:
    if isinstance(evidence, Weighed):
        return evidence.mass_kg
    return evidence.temperature_k if isinstance(evidence, FaceRead) else 0.0


def _tares(story: Story, expected: Array) -> Array:
    """About what else hangs on the scale, a piece: the tare is quite free, but its numbers must not get large."""
    out = np.zeros(expected.size)
    weighings = [i for i, one in enumerate(story.evidence) if isinstance(one, Weighed)]
    stretches = np.array([stretch(story, story.evidence[i].at_s) for i in weighings])
    too_much = np.array([_value(story.evidence[i]) for i in weighings]) - expected[weighings]
    for n in set(stretches.tolist()):
        out[np.array(weighings)[stretches == n]] = too_much[stretches == n].mean()
    return out
