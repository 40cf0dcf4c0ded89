"""What evidence would be, as a straight function of the unknowns: least squares over the members.

Statistical linear regression, with what the line leaves over as noise of its own: A. F. Garcia-Fernandez,
L. Svensson, M. R. Morelande and S. Sarkka, "Posterior linearization filter", IEEE Trans. Signal Process. 63(20), 2015,
5561-5573; with members instead of sigma points as P. N. Raanes, A. S. Stordal and G. Evensen, Nonlin. Processes
Geophys. 26, 2019, 325-338 (both from memory).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.learning.lives import Shown
from service.learning.story import Evidence, FaceRead, Felt, Weighed
from service.learning.unknowns import Unknowns

Array = NDArray[np.float64]

MOST_USED = 0.75
"""At most so many slopes a member: the rest is needed to see what the line leaves over (our choice)."""
FLAT = 1e-9


@dataclass(frozen=True)
class Linear:
    """constant + slope @ x + something of covariance `left_over`: (n,), (n, d), (n, n) for n pieces of evidence."""

    constant: Array
    slope: Array
    left_over: Array


def linearise(evidence: Sequence[Evidence], shown: Sequence[Shown], unknowns: Unknowns, x: Array) -> Linear:
    """The line through what the members x (d, members) showed; slopes only to what a piece can depend on."""
    alike: dict[tuple[int, tuple[int, ...], bool], list[int]] = defaultdict(list)
    zones = tuple(range(len(unknowns.stirring)))
    for i, (one, what) in enumerate(zip(evidence, shown, strict=True)):
        alike[(what.coats, _zones(one, zones), isinstance(one, Weighed))].append(i)
    values = np.array([what.values for what in shown])
    centred = values - values.mean(axis=1, keepdims=True)
    slope, rest = np.zeros((len(shown), x.shape[0])), np.zeros_like(values)
    for (coats, among, area), which in alike.items():
        if coats:
            slope[which], rest[which] = _regress(centred[which], unknowns.bearing_on(coats, among, area), x)
    return Linear(values.mean(axis=1) - slope @ x.mean(axis=1), slope, rest @ rest.T)


def _zones(evidence: Evidence, every: tuple[int, ...]) -> tuple[int, ...]:
    if isinstance(evidence, FaceRead | Felt) and evidence.zone is not None:
        return (evidence.zone,)
    return every


def _regress(values: Array, sums: Array, x: Array) -> tuple[Array, Array]:
    """Slopes (n, d), and what is left over (n, members), scaled so that its squares add up to a variance."""
    apart = sums @ (x - x.mean(axis=1, keepdims=True))
    left, size, right = np.linalg.svd(apart, full_matrices=False)
    members = x.shape[1]
    used = min(int((size > FLAT * max(size[0], FLAT)).sum()), int(MOST_USED * (members - 1)))
    along = values @ right[:used].T
    slope = (along / size[:used]) @ left[:, :used].T @ sums
    rest = (values - along @ right[:used]) / np.sqrt(members - 1 - used)
    return slope, rest
