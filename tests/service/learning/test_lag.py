"""What is learned of a lagged quantity: true numbers found again, honest doubt, and no bad reading that poisons it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from service.learning.lag import Lag, Prior, Record, learn_lag

Array = NDArray[np.float64]

STEP_S, DAY_S, HOUR_S = 1800.0, 86400.0, 3600.0
PRIOR = Prior(
    rate_1_s=(1.0 / HOUR_S, 0.8),
    gain=(1.0, 0.5),
    gusts=(0.02, 1.0),
    wander=(0.5, 0.7),
    noise=0.02,
    level=2.0,
    start=1.0,
    wavers=0.1,
)


def record(rate_an_hour: float, gain: float, days: int = 5, seed: int = 1, noise: float = 0.02) -> Record:
    """A tank of something, pushed in bursts, towards a known swing with a steady level of 1 above it."""
    draw = np.random.default_rng(seed)
    fine_s, steps = 60.0, round(days * DAY_S / 60.0)
    t = np.arange(steps) * fine_s
    towards = 2.0 * np.sin(2 * np.pi * t / DAY_S)
    push = np.zeros(steps)
    for at in draw.uniform(0.0, days * DAY_S, 5 * days):
        push += np.where((t > at) & (t < at + 2 * HOUR_S), draw.uniform(0.5, 1.5) / HOUR_S, 0.0)
    x, now, rate = np.empty(steps), 1.0, rate_an_hour / HOUR_S
    for i in range(steps):
        x[i] = now
        settles = towards[i] + 1.0 + gain * push[i] / rate
        now = settles + (now - settles) * float(np.exp(-rate * fine_s))
    halves = [row.reshape(-1, 30).mean(axis=1) for row in (x, towards, push)]
    value = halves[0] + draw.normal(0.0, noise, halves[0].size)
    return Record(STEP_S, value, halves[1], halves[2], np.ones(value.size))


def away(found: Lag, rate_an_hour: float, gain: float) -> Array:
    """By how many of its own spreads each number is off."""
    off = found.mean - np.log([rate_an_hour / HOUR_S, gain])
    out: Array = off / np.sqrt(np.diag(found.covariance))
    return out


@pytest.mark.parametrize(("rate", "gain"), [(0.3, 1.6), (0.9, 0.6), (2.5, 1.0)])
def test_true_numbers_are_found_again(rate: float, gain: float) -> None:
    found = learn_lag(record(rate, gain), PRIOR)
    assert np.exp(found.mean) == pytest.approx([rate / HOUR_S, gain], rel=0.1)
    assert np.abs(away(found, rate, gain)).max() < 2.5
    assert found.level == pytest.approx(1.0, abs=3.0 * found.level_spread + 0.05)


def test_more_readings_leave_less_doubt() -> None:
    spreads = [np.diag(learn_lag(record(0.9, 0.6, days), PRIOR).covariance) for days in (1, 5)]
    assert np.all(spreads[1] < spreads[0])


def test_nobody_is_surer_of_the_rate_than_it_wavers() -> None:
    found = learn_lag(record(0.9, 0.6), replace(PRIOR, wavers=0.3))
    assert found.covariance[0, 0] > 0.3**2


@pytest.mark.parametrize("values", [[], [np.nan] * 50, [np.nan, 1.0, np.nan]])
def test_without_readings_all_is_as_thought_before(values: list[float]) -> None:
    value = np.array(values)
    found = learn_lag(Record(STEP_S, value, *np.zeros((2, value.size)), np.ones(value.size)), PRIOR)
    assert np.exp(found.mean) == pytest.approx([1.0 / HOUR_S, 1.0])
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx([0.8, 0.5])
    assert found.level_spread == 2.0


def test_a_bad_reading_poisons_nothing() -> None:
    good = record(0.9, 0.6)
    value = good.value.copy()
    value[[40, 41, 120]] += [30.0, -25.0, 40.0]
    one, other = learn_lag(good, PRIOR), learn_lag(replace(good, value=value), PRIOR)
    spread = np.sqrt(np.diag(one.covariance))
    assert np.abs((one.mean - other.mean) / spread).max() < 1.5


def test_gaps_are_bridged() -> None:
    good = record(0.9, 0.6)
    value = good.value.copy()
    value[30:60] = np.nan
    value[::7] = np.nan
    found = learn_lag(replace(good, value=value), PRIOR)
    assert np.abs(away(found, 0.9, 0.6)).max() < 2.5
    assert found.pieces == np.isfinite(value).sum()


def test_what_is_old_fades() -> None:
    """A shed that was opened up: with old readings faded the new rate holds."""
    old, new = record(0.3, 1.0, days=4), record(2.0, 1.0, days=4, seed=2)
    both = Record(
        STEP_S,
        *(np.concatenate([getattr(old, name), getattr(new, name)]) for name in ("value", "towards", "push")),
        np.ones(old.value.size + new.value.size),
    )
    fading = 0.5 ** ((np.arange(both.value.size)[::-1] * STEP_S) / (0.7 * DAY_S))
    even, faded = learn_lag(both, PRIOR), learn_lag(replace(both, weight=fading), PRIOR)
    truth = np.log(2.0 / HOUR_S)
    assert abs(faded.mean[0] - truth) < abs(even.mean[0] - truth)
    assert float(np.exp(faded.mean[0])) * HOUR_S == pytest.approx(2.0, rel=0.25)


def test_the_same_readings_teach_the_same() -> None:
    one, other = learn_lag(record(0.9, 0.6), PRIOR), learn_lag(record(0.9, 0.6), PRIOR)
    assert one.mean.tolist() == other.mean.tolist()
    assert one.covariance.tolist() == other.covariance.tolist()
