"""Scales whose readings can be kept as a mould's weight: what they show, how old that is, how still. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.errors import Conflict
from service.reading import Freshness, Quantity, Reading
from service.room.views import SensorNow
from service.voice import say

MOST_AGE = timedelta(minutes=2)
"""An older reading may be of the mould that hung there before (our choice)."""
STILL_FOR = timedelta(seconds=20)
"""What it told for so long before the newest reading is held against that (our choice)."""
STILL_SHARE, STILL_KG = 0.005, 0.02
"""A swing below a half per cent, or 20 g, counts as still: less than a coat's water on a small mould (our choice)."""


@dataclass(frozen=True, slots=True)
class ScaleNow:
    """What a scale shows. `lowest_kg`, `highest_kg`: of its last readings; `count`: how many these were."""

    name: str
    mass_kg: float
    at: datetime
    age_s: float
    fresh: bool
    lowest_kg: float
    highest_kg: float
    count: int

    @property
    def still(self) -> bool:
        """Whether it holds still, as far as it told."""
        return self.highest_kg - self.lowest_kg <= max(STILL_SHARE * abs(self.mass_kg), STILL_KG)


def scale_now(name: str, readings: Sequence[Reading], now: datetime) -> ScaleNow | None:
    """A scale out of what it told lately, by time. None: nothing."""
    told = [reading for reading in readings if reading.at <= now]
    if not told:
        return None
    newest = told[-1]
    lately = [reading.value for reading in told if reading.at >= newest.at - STILL_FOR]
    age = now - newest.at
    return ScaleNow(
        name=name,
        mass_kg=newest.value,
        at=newest.at,
        age_s=age.total_seconds(),
        fresh=age <= MOST_AGE,
        lowest_kg=min(lately),
        highest_kg=max(lately),
        count=len(lately),
    )


def scale_names(sensors: Sequence[SensorNow]) -> list[str]:
    """The sensors that ever told a weight since coatbell started, what was heard last first."""
    weighed = [
        (at, sensor.name)
        for sensor in sensors
        if sensor.freshness is not Freshness.NEVER
        for quantity, _, at in sensor.values
        if quantity is Quantity.WEIGHT
    ]
    return [name for _, name in sorted(weighed, reverse=True)]


def check_scale(scale: ScaleNow | None, name: str) -> ScaleNow:
    """A scale whose reading can be kept. Raises Conflict, in words, for one that is silent, swings or is empty."""
    if scale is None or not scale.fresh:
        raise Conflict(
            "scale_silent",
            say(
                "“{scale}” has told nothing for a while: its last reading may be of another mould.",
                scale=name,
            ),
            say("Hang the mould on it and wait for its next reading, or type what it shows."),
            "scale",
        )
    if scale.mass_kg <= 0:
        raise Conflict(
            "scale_empty",
            say("“{scale}” shows nothing hanging on it.", scale=name),
            say("Hang the mould on it, or type its weight."),
            "scale",
        )
    if not scale.still:
        raise Conflict(
            "scale_swings",
            say("“{scale}” does not hold still yet.", scale=name),
            say("Wait until the mould hangs quietly, or type what it shows."),
            "scale",
        )
    return scale
