"""Sensors of one room that cannot all be right: when that is so, what is believed meanwhile, and how it is said.

A hygrometer such as shops buy is right within five points, so that two in the same air lie ten apart at most.
A thermometer is right within half a kelvin, and a room is up to two kelvin warmer under its roof than at the
floor: three. Each is held against the other by its mean of half an hour, so that an open door starts nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import partial

import numpy as np

from service.held import Held
from service.reading import Quantity
from service.room.heard import BIN_S, Array, Mask
from service.units import Dimension, Units, show
from service.voice import later, say, voice

APART = {Quantity.AIR_TEMPERATURE: 3.0, Quantity.RELATIVE_HUMIDITY: 0.10}
"""Sensors farther apart than this, kelvin or a share of 1, contradict each other (our choice, reasons above)."""
HALF_HOUR = 1800 // BIN_S
"""In five minutes each."""
ROUNDING = 1e-6

SHOWN_AS = {
    Quantity.AIR_TEMPERATURE: Dimension.TEMPERATURE,
    Quantity.RELATIVE_HUMIDITY: Dimension.FRACTION,
}


@dataclass(frozen=True)
class Differing:
    """What each sensor of a room tells of one quantity, and since when they contradict each other."""

    quantity: Quantity
    told: tuple[tuple[str, float], ...]
    since: datetime


def contradict(rows: Array, quantity: Quantity) -> Mask:
    """At each five minutes, whether the sensors that speak lie too far apart. `rows`: one a sensor, NaN: silent."""
    means = half_hour_means(rows)
    spread = np.where(np.isfinite(means), means, -np.inf).max(axis=0)
    spread -= np.where(np.isfinite(means), means, np.inf).min(axis=0)
    apart: Mask = spread > APART.get(quantity, np.inf) + ROUNDING
    return apart


def half_hour_means(rows: Array) -> Array:
    """The mean of what each sensor told in the last half hour, where it speaks."""
    spoken = np.isfinite(rows)
    total, count = _summed(np.where(spoken, rows, 0.0)), _summed(spoken.astype(float))
    return np.where(spoken, total / np.maximum(count, 1.0), np.nan)


def _summed(values: Array) -> Array:
    sums = np.cumsum(np.pad(values, ((0, 0), (HALF_HOUR, 0))), axis=1)
    half_hours: Array = sums[:, HALF_HOUR:] - sums[:, :-HALF_HOUR]
    return half_hours


def believed(rows: Array, quantity: Quantity) -> Array:
    """The median over the sensors that speak: one that is off does not pull three along.

    Of two hygrometers that contradict each other the damper is believed: a bell too late harms less than one too soon.
    """
    out = np.full(rows.shape[1], np.nan)
    spoken = np.isfinite(rows)
    any_ = spoken.any(axis=0)
    out[any_] = np.nanmedian(rows[:, any_], axis=0)
    if quantity is Quantity.RELATIVE_HUMIDITY:
        two = (spoken.sum(axis=0) == 2) & contradict(rows, quantity)
        out[two] = np.nanmax(rows[:, two], axis=0)
    return out


def differ_lines(differing: Differing, units: Units) -> list[str]:
    """``Sensors differ: bench 55 %, door 5 %: one of them is wrong``, and which is believed if that is one of them."""
    lines: list[str] = [Held(partial(_differ_line, differing, units))]
    if differing.quantity is Quantity.RELATIVE_HUMIDITY and len(differing.told) == 2:
        lines.append(Held(partial(say, later("Until it is found, the damper one counts"))))
    return lines


def _differ_line(differing: Differing, units: Units) -> str:
    shown, seen_in = SHOWN_AS[differing.quantity], voice().units or units
    sensors = ", ".join(f"{name} {show(value, shown, seen_in)}" for name, value in differing.told)
    return say("Sensors differ: {sensors}: one of them is wrong", sensors=sensors)
