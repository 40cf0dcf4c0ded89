"""What scales and probes on a mould told, thinned to about a mean each half hour, while it hung quietly."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

import numpy as np

from service.reading import Quantity
from service.records.air_facts import FiveMinutes
from service.room.heard import BIN_S
from service.room.progress import Progress
from service.room.scales import STILL_KG, STILL_SHARE
from service.room.sensors_on import sensors_on

EACH_S, EARLIER_S = 1800, 7200
"""How often, in the newest wait and in those before: what a scale says oftener says the same again, for the model is
less true than a scale is exact (our choice)."""
STILL_K = 0.5
"""A face warms and cools with the room, never by so much within a quarter of an hour of quiet (our choice)."""
TOGETHER = 3
"""Five minutes after five minutes, all of them heard, that must agree for the middle one to count."""
AFTER_A_DIP_S = 900.0
"""So long before and after each dip a mould is carried about, dripping (our choice)."""


@dataclass(frozen=True, slots=True)
class ToldOn:
    """What a sensor on a mould told. zone: where a probe sits; None: a scale, kg. Else K."""

    at_s: float
    sensor: str
    zone: str | None
    value: float


class Told(Protocol):
    """Where readings are asked for."""

    def five_minutes(
        self, sensor: str, quantity: Quantity, since: datetime, before: datetime
    ) -> FiveMinutes: ...


def all_told(p: Progress, records: Told, now: datetime) -> tuple[ToldOn, ...]:
    """What all sensors that ever were on a mould told by now, by time."""
    dips_s = [dip.at.timestamp() for dip in p.dips]
    only = p.body.zones[0].name if len(p.body.zones) == 1 else None
    found: list[ToldOn] = []
    for on in sensors_on(p):
        until = min(on.until or now, now)
        for quantity, zone in ((Quantity.WEIGHT, None), (Quantity.SURFACE_TEMPERATURE, on.zone or only)):
            if on.since < until and (quantity is Quantity.WEIGHT or zone is not None):
                told = records.five_minutes(on.sensor, quantity, on.since, until)
                found += told_on(on.sensor, zone, quantity, told, dips_s)
    return tuple(sorted(found, key=lambda each: (each.at_s, each.sensor)))


def told_on(
    sensor: str, zone: str | None, quantity: Quantity, told: FiveMinutes, dips_s: Sequence[float]
) -> Iterator[ToldOn]:
    """The quietest five minutes of each half hour. told: one sensor's, while it was on the mould."""
    numbers, means = told.number, told.total / np.maximum(told.count, 1.0)
    best: dict[int, tuple[float, int]] = {}
    for i in range(numbers.size - TOGETHER + 1):
        if numbers[i + TOGETHER - 1] - numbers[i] != TOGETHER - 1:
            continue
        moved, at_s = float(np.ptp(means[i : i + TOGETHER])), (numbers[i + 1] + 0.5) * BIN_S
        still = moved <= _still(quantity, float(means[i + 1]))
        if still and all(abs(at_s - dip_s) > AFTER_A_DIP_S for dip_s in dips_s):
            slot = int(at_s // (EACH_S if not dips_s or at_s > dips_s[-1] else EARLIER_S))
            best[slot] = min(best.get(slot, (np.inf, i + 1)), (moved, i + 1))
    for _, i in sorted(best.values(), key=lambda each: each[1]):
        yield ToldOn(float((numbers[i] + 0.5) * BIN_S), sensor, zone, float(means[i]))


def _still(quantity: Quantity, value: float) -> float:
    """How much it may move and still count as quiet."""
    return STILL_K if quantity is Quantity.SURFACE_TEMPERATURE else max(STILL_SHARE * abs(value), STILL_KG)
