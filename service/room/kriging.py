"""What is likeliest to come, and how far it may lie off, from what was measured: kriging in time, of both quantities.

The forecast is the mean, and its doubt the covariance, of the air to come given the means of blocks of past air: best
linear unbiased prediction with blocks (A. G. Journel & C. J. Huijbregts, Mining Geostatistics, 1978, ch. V; C. E.
Rasmussen & C. K. I. Williams, Gaussian Processes for Machine Learning, 2006, eq. 2.23-2.24). Blocks are short where
the air is fresh and long where it is old; one in which too little was measured is left out, so that age is lead by
itself. What a room's air is about is not known but wide, and is found along with the rest.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from service.room.air_wander import Wander, memory

Array = NDArray[np.float64]
Leads = tuple[float, ...]

HISTORY_H = 28 * 24
NODES_H: Leads = (
    *(0.0, 0.5, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 12.0, 15.0, 18.0, 21.0),
    *(float(hour) for hour in range(24, 72, 6)),
    *(float(hour) for hour in range(72, 169, 12)),
)
"""At these leads the doubt is worked out; between them straight lines."""
STEPS_H = ((0, 6, 0.5), (6, 24, 1.0), (24, 72, 3.0), (72, 240, 6.0), (240, HISTORY_H, 12.0))
"""From which age to which blocks last how long."""
FINE_H = ((0, 6, 0.5), (6, 72, 1.0), (72, HISTORY_H, 3.0))
"""What their means are summed up of."""
ABOUT_K, ABOUT_HUMIDITY = 15.0, 0.15
USUAL_HUMIDITY = 0.6
"""What a room is about: its own mean, give or take 15 K; six tenths, give or take 0.15 (our choice)."""


def _edges(steps: tuple[tuple[int, int, float], ...]) -> Array:
    return np.concatenate([*(np.arange(*span) for span in steps), [float(HISTORY_H)]])


EDGES_H = _edges(STEPS_H)
"""Ages between which the blocks lie, (blocks + 1,)."""
BLOCKS = EDGES_H.size - 1
_FINE_EDGES_H = _edges(FINE_H)
_AGES_H = 0.5 * (_FINE_EDGES_H[:-1] + _FINE_EDGES_H[1:])
_STARTS = np.searchsorted(_FINE_EDGES_H, EDGES_H[:-1])
_SIZES = np.diff(np.append(_STARTS, _AGES_H.size))


@dataclass(frozen=True)
class Drift:
    """What is known to drive the air, such as outside: columns that it follows by unknown weights near nothing.

    Rows are temperatures, then humidities; each column is as large as one weight's standard deviation makes it.
    blocks: (2 blocks, columns), newest first; leads, nodes: (2 leads, columns), (2 nodes, columns).
    """

    blocks: Array
    leads: Array
    nodes: Array


@dataclass(frozen=True)
class Foretold:
    """temperature_k, humidity: likeliest at each lead. covariance: at the nodes, (2 nodes, 2 nodes), K first.

    weights: how many standard deviations the weight of each column of the drift likeliest is.
    """

    temperature_k: Array
    humidity: Array
    covariance: Array
    weights: Array


def foretell(
    wander: Wander,
    temperature_k: Array,
    humidity: Array,
    leads_h: Leads,
    nodes_h: Leads,
    drift: Drift | None = None,
) -> Foretold:
    """From block means of what was measured, newest first, nan where too little was; (blocks,) each, not all nan.

    leads_h, nodes_h: hours from the newest edge of the blocks. Humidity is not held to what is possible.
    """
    known = np.flatnonzero(np.isfinite(temperature_k) & np.isfinite(humidity))
    about = float(temperature_k[known].mean())
    off = np.concatenate([temperature_k[known] - about, humidity[known] - USUAL_HUMIDITY])
    parts, drift = wander.covariance, drift or _no_drift(len(leads_h), len(nodes_h))
    past = drift.blocks[np.concatenate([known, known + BLOCKS])]
    towards = _joined(parts, _towards(nodes_h)[:, :, known]) + drift.nodes @ past.T
    among = _joined(parts, _among()[:, known[:, None], known]) + past @ past.T
    solved = np.linalg.solve(among, np.column_stack([off, towards.T]))
    left = _joined(parts, _between(nodes_h)) + drift.nodes @ drift.nodes.T - towards @ solved[:, 1:]
    weights = past.T @ solved[:, 0]
    mean = _mean(parts, leads_h, known, solved[:, 0]) + (drift.leads @ weights).reshape(2, -1)
    return Foretold(about + mean[0], USUAL_HUMIDITY + mean[1], 0.5 * (left + left.T), weights)


def _no_drift(leads: int, nodes: int) -> Drift:
    return Drift(np.zeros((2 * BLOCKS, 0)), np.zeros((2 * leads, 0)), np.zeros((2 * nodes, 0)))


def _mean(parts: Array, leads_h: Leads, known: NDArray[np.int_], solved: Array) -> Array:
    """How far the likeliest lies from what the room is about, (2, leads)."""
    pull = np.zeros((BLOCKS, 2))
    pull[known] = solved.reshape(2, -1).T
    own = np.tensordot(parts, _towards(leads_h) @ pull, axes=([0, 2], [0, 2]))
    about = np.array([ABOUT_K, ABOUT_HUMIDITY]) ** 2 * pull.sum(axis=0)
    out: Array = own + about[:, None]
    return out


def _joined(parts: Array, memories: Array) -> Array:
    """Covariance of both quantities at one set of times with both at another, (2 n, 2 m)."""
    rows, columns = memories.shape[1:]
    joined = np.tensordot(parts, memories, axes=(0, 0))
    joined[0, 0] += ABOUT_K**2
    joined[1, 1] += ABOUT_HUMIDITY**2
    out: Array = joined.transpose(0, 2, 1, 3).reshape(2 * rows, 2 * columns)
    return out


@lru_cache(maxsize=1)
def _among() -> Array:
    """What each part keeps from block to block, (parts, blocks, blocks)."""
    apart = _AGES_H[:, None] - _AGES_H
    return _block_means(_block_means(memory(apart)).swapaxes(1, 2))


@lru_cache(maxsize=8)
def _towards(leads_h: Leads) -> Array:
    """What each part keeps from the blocks to each lead, (parts, leads, blocks)."""
    return _block_means(memory(np.array(leads_h)[:, None] + _AGES_H))


@lru_cache(maxsize=8)
def _between(nodes_h: Leads) -> Array:
    nodes = np.array(nodes_h)
    return memory(nodes[:, None] - nodes)


def _block_means(memories: Array) -> Array:
    out: Array = np.add.reduceat(memories, _STARTS, axis=-1) / _SIZES
    return out


def block_means(hourly: Array) -> Array:
    """Of hourly means, newest first, nan where unknown, (HISTORY_H,); nan where less than half of a block is known."""
    first = EDGES_H[:-1].astype(int)  # two half hours of one hour are both its mean
    known = np.isfinite(hourly)
    number, size = (np.add.reduceat(of.astype(float), first) for of in (known, np.ones(hourly.size)))
    total = np.add.reduceat(np.where(known, hourly, 0.0), first)
    out: Array = np.where(number >= 0.5 * size, total / np.maximum(number, 1.0), np.nan)
    return out
