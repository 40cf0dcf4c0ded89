"""How fast a room's air goes back to where it comes from, and how it answers to what pushes it: learned from readings.

    dx/dt = rate (towards + level - x) + gain push

x is vapour or temperature, in means over equal spans; `towards` is what is known of outdoors (0 where nothing is), and
`level`, which wanders slowly, stands for all that nobody tells: steady loads, or all of outdoors. A Kalman filter (R.
E. Kalman, J. Basic Eng. 82, 1960, 35-45) follows x and level for given numbers and tells how likely they make the
readings; the likeliest numbers, with log-normal priors, are found by Newton's method, and their doubt is read off the
curvature there (Laplace's approximation; D. J. C. MacKay, Neural Computation 4, 1992, 415-447, from memory). Old
readings fade.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

NUMBERS = 4  # logarithms of rate, gain, gusts and wandering
NEARLY = 0.05
"""How far from the likeliest numbers, in logarithms, the curvature is looked at."""
MOST_ROUNDS = 30
CLOSE_ENOUGH = 1e-3
LONGEST_STRIDE = 1.0
STRIDES = np.array([1.0, 0.5, 0.25, 0.1, 0.03, 0.01])
OUTLIER = 3.0
"""A reading further off than so many spreads counts as one that is just so far off: a door stood open."""
PARTS = 6
TRUST = 0.5
"""So much of a reading is news: the gusts of one hour are still about in the next (our choice; see its test)."""


@dataclass(frozen=True)
class Record:
    """Means over spans of `step_s`, the newest last; nan in `value` where nothing was measured.

    value, towards: (n,) in one unit; push: (n,) in that unit a second. weight: (n,) how much each counts, 0..1.
    """

    step_s: float
    value: Array
    towards: Array
    push: Array
    weight: Array


@dataclass(frozen=True)
class Prior:
    """What is thought before: middle and log-normal spread of each number.

    rate_1_s: of going back. gain: of the push. noise: of a mean. gusts: what x is shaken by in an hour; wander: how far
    the level goes in a day. level, start: spread of the level, and of x, at first. wavers: spread of the rate from hour
    to hour, by wind and doors: nobody is ever surer of the rate to come.
    """

    rate_1_s: tuple[float, float]
    gain: tuple[float, float]
    gusts: tuple[float, float]
    wander: tuple[float, float]
    noise: float
    level: float
    start: float
    wavers: float

    @property
    def middle(self) -> Array:
        return np.log([each[0] for each in (self.rate_1_s, self.gain, self.gusts, self.wander)])

    @property
    def spread(self) -> Array:
        return np.array([each[1] for each in (self.rate_1_s, self.gain, self.gusts, self.wander)])


@dataclass(frozen=True)
class Lag:
    """What was learned: mean and covariance of the logarithms of rate and gain.

    level, level_spread: now, in the unit of x. pieces: how many means it rests on.
    """

    mean: Array
    covariance: Array
    level: float
    level_spread: float
    pieces: int


def learn_lag(record: Record, prior: Prior) -> Lag:
    """The likeliest numbers and their doubt. Without readings that tell anything: the prior."""
    pieces = int(np.isfinite(record.value).sum())
    if pieces < 2:
        return Lag(prior.middle[:2], np.diag(prior.spread[:2] ** 2), 0.0, prior.level, pieces)
    numbers = prior.middle
    for _ in range(MOST_ROUNDS):
        slope, bend = _slope_and_bend(record, prior, numbers)
        stride = _bounded(np.asarray(np.linalg.solve(bend, slope), np.float64))
        tried = numbers + STRIDES[:, None] * stride
        best = tried[int(np.argmax(_likelihood(record, prior, tried)))]
        if float(np.abs(best - numbers).max()) < CLOSE_ENOUGH:
            break
        numbers = best
    _, bend = _slope_and_bend(record, prior, numbers)
    seen = _follow(record, prior, numbers[None])
    covariance = np.asarray(np.linalg.inv(bend)[:2, :2] + np.diag([prior.wavers**2, 0.0]), np.float64)
    return Lag(numbers[:2], covariance, float(seen.level[0]), float(seen.level_spread[0]), pieces)


def _bounded(stride: Array) -> Array:
    longest = float(np.abs(stride).max())
    return stride if longest <= LONGEST_STRIDE else stride * (LONGEST_STRIDE / longest)


def _likelihood(record: Record, prior: Prior, numbers: Array) -> Array:
    """Logarithm of how likely each row of numbers is, prior and readings together."""
    away = (numbers - prior.middle) / prior.spread
    out: Array = _follow(record, prior, numbers).likelihood - 0.5 * (away * away).sum(axis=1)
    return out


def _slope_and_bend(record: Record, prior: Prior, numbers: Array) -> tuple[Array, Array]:
    """The likelihood's slope, and its curvature turned round: at least the prior's, so that it can be divided by."""
    one = NEARLY * np.eye(NUMBERS)
    pairs = [(i, j) for i in range(NUMBERS) for j in range(i)]
    around = [numbers, *(numbers + one), *(numbers - one)]
    around += [numbers + one[i] + one[j] for i, j in pairs] + [numbers - one[i] - one[j] for i, j in pairs]
    found = _likelihood(record, prior, np.array(around))
    middle, up, down = found[0], found[1 : 1 + NUMBERS], found[1 + NUMBERS : 1 + 2 * NUMBERS]
    both = found[1 + 2 * NUMBERS :].reshape(2, len(pairs))
    bend = np.diag(2.0 * middle - up - down)
    for n, (i, j) in enumerate(pairs):
        crossed = both[0, n] + both[1, n] - up[i] - up[j] - down[i] - down[j] + 2.0 * middle
        bend[i, j] = bend[j, i] = -0.5 * crossed
    values, ways = np.linalg.eigh(bend / NEARLY**2)
    least = float((prior.spread**-2).min())
    return (up - down) / (2.0 * NEARLY), (ways * np.maximum(values, least)) @ ways.T


@dataclass(frozen=True)
class _Seen:
    """By row of numbers: how likely they make the readings, and the level at the end."""

    likelihood: Array
    level: Array
    level_spread: Array


@dataclass(frozen=True)
class _Span:
    """One span for each row of numbers: how x and b at its start, and what is known, make its mean and its end.

    of_x, of_b: parts of x and b in the mean; kept, taken_up: in x at the end. Shaken: covariances of what nobody knows.
    """

    kept: Array
    taken_up: Array
    of_x: Array
    of_b: Array
    xx: Array
    xb: Array
    bb: Array
    xm: Array
    bm: Array
    mm: Array


def _span(numbers: Array, step_s: float) -> _Span:
    """Exact for what is known; what is shaken comes in `PARTS` equal parts."""
    rate, _, gusts, wander = np.exp(numbers.T)
    shaken, wanders = gusts**2 * step_s / 3600.0 / PARTS, (rate * wander) ** 2 * step_s / 86400.0 / PARTS
    part_s = step_s / PARTS
    kept, taken_up, of_x, of_b = _spell(rate, part_s)
    xx, xb, bb, xm, bm, mm = np.zeros((6, rate.size))
    for _ in range(PARTS):
        # m: the sum of the parts' means so far
        mm = mm + 2.0 * (of_x * xm + of_b * bm) + of_x * of_x * xx + 2.0 * of_x * of_b * xb + of_b * of_b * bb
        xm, bm = (
            kept * (xm + of_x * xx + of_b * xb) + taken_up * (bm + of_x * xb + of_b * bb),
            bm + of_x * xb + of_b * bb,
        )
        xx = kept * kept * xx + 2.0 * kept * taken_up * xb + taken_up * taken_up * bb + shaken
        xb, bb = kept * xb + taken_up * bb, bb + wanders
    return _Span(*_spell(rate, step_s), xx, xb, bb, xm / PARTS, bm / PARTS, mm / PARTS**2)


def _spell(rate: Array, step_s: float) -> tuple[Array, Array, Array, Array]:
    kept = np.exp(-rate * step_s)
    taken_up = -np.expm1(-rate * step_s) / rate
    of_x = taken_up / step_s
    return kept, taken_up, of_x, (1.0 - of_x) / rate


def _follow(record: Record, prior: Prior, numbers: Array) -> _Seen:
    """The filter, for all rows of numbers at once. x: the air; b: what the level gives to it a second."""
    rate, gain = np.exp(numbers[:, 0]), np.exp(numbers[:, 1])
    s, noise = _span(numbers, record.step_s), prior.noise**2
    first = int(np.flatnonzero(np.isfinite(record.value))[0])
    x, b = np.full(rate.size, record.value[first]), np.zeros(rate.size)
    xx, xb, bb = np.full(rate.size, prior.start**2), np.zeros(rate.size), (rate * prior.level) ** 2
    likelihood = np.zeros(rate.size)
    for i in range(first, record.value.size):
        towards, given = record.towards[i], gain * record.push[i] + b
        mean = s.of_x * x + (1.0 - s.of_x) * towards + s.of_b * given
        mx, mb = s.of_x * xx + s.of_b * xb, s.of_x * xb + s.of_b * bb
        spread = s.of_x * mx + s.of_b * mb + s.mm + noise
        xm, bm = s.kept * mx + s.taken_up * mb + s.xm, mb + s.bm
        x = s.kept * x + (1.0 - s.kept) * towards + s.taken_up * given
        xx = s.kept * (s.kept * xx + 2.0 * s.taken_up * xb) + s.taken_up * s.taken_up * bb + s.xx
        xb, bb = s.kept * xb + s.taken_up * bb + s.xb, bb + s.bb
        if np.isfinite(record.value[i]):
            off = record.value[i] - mean
            spread = np.maximum(spread, (off / OUTLIER) ** 2)
            likelihood -= 0.5 * TRUST * record.weight[i] * (np.log(spread) + off * off / spread)
            x, b = x + xm / spread * off, b + bm / spread * off
            xx, xb, bb = xx - xm * xm / spread, xb - xm * bm / spread, bb - bm * bm / spread
    return _Seen(likelihood, b / rate, np.sqrt(bb) / rate)
