"""Fixed draws: the same members for the same story, whenever and wherever it is asked."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

SEED = 20


@lru_cache(maxsize=64)
def standard_normal(members: int, count: int) -> Array:
    """(members, count) draws whose means are 0, and whose covariance is the unit matrix where members allow it."""
    raw = np.random.Generator(np.random.PCG64(SEED)).standard_normal((members, count))
    raw -= raw.mean(axis=0)
    if count < members:
        values, vectors = np.linalg.eigh(raw.T @ raw / members)
        raw = raw @ (vectors / np.sqrt(values)) @ vectors.T
    else:
        raw /= raw.std(axis=0)
    raw.setflags(write=False)
    return raw


def drawn(mean: Array, covariance: Array, members: int) -> Array:
    """Members (d, members) of a normal distribution with mean (d,) and covariance (d, d), which may be singular."""
    values, vectors = np.linalg.eigh(covariance)
    root = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    out: Array = mean[:, None] + root @ standard_normal(members, mean.size).T
    return out
