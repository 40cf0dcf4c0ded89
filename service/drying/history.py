"""From the dips a mould was given to how wet it is: every zone's life played back through its air."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.drying.shell import Coat, Numbers, Parameters, ZoneShape, for_each
from service.drying.solver import Dried, advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState, dip, hang

USUAL_LIMITS = Limits()


@dataclass(frozen=True, slots=True)
class Multipliers:
    """How many times the model's numbers hold for a zone: soaking at a dip, draught and stirring until the next."""

    transfer: float = 1.0
    sorptivity: float = 1.0
    stirring: float = 1.0

    def of(self, parameters: Parameters) -> Parameters:
        """The numbers that hold for the zone meanwhile."""
        if self == AS_THE_MODEL:
            return parameters
        return replace(
            parameters,
            transfer_multiplier=parameters.transfer_multiplier * self.transfer,
            sorptivity_multiplier=parameters.sorptivity_multiplier * self.sorptivity,
            stirring_multiplier=parameters.stirring_multiplier * self.stirring,
        )


AS_THE_MODEL = Multipliers()


@dataclass(frozen=True, slots=True)
class Dip:
    """A coat laid at `at_s`, what is waited for after it, and what of the zone's own holds until the next."""

    at_s: float
    coat: Coat
    immersion_s: float = 15.0
    limits: Limits = USUAL_LIMITS
    multipliers: Multipliers = AS_THE_MODEL


@dataclass(frozen=True, slots=True)
class Life:
    """What befell one zone: its dips in order, up to `until_s`."""

    shape: ZoneShape
    dips: tuple[Dip, ...]
    until_s: float


@dataclass(frozen=True, slots=True)
class Stretch:
    """From one dip to the next, or to the end: the zone just after the dip, and what became of it."""

    dip: Dip
    laid: ZoneState
    dried: Dried


def play_back(lives: Sequence[Life], air: AirSeries, numbers: Numbers) -> list[tuple[Stretch, ...]]:
    """The stretches of each life. All lives hang in the same air; the n-th dips of all are computed together.

    numbers: of all, or of each life its own (an ensemble); a dip's multipliers come on top of them. Raises ValueError
    if a life's dips are not in order or lie beyond its end.
    """
    own = for_each(numbers, len(lives))
    stretches: list[list[Stretch]] = [[] for _ in lives]
    for turn in range(max((len(life.dips) for life in lives), default=0)):
        taking_part = [i for i, life in enumerate(lives) if len(life.dips) > turn]
        theirs = [lives[i].dips[turn].multipliers.of(own[i]) for i in taking_part]
        laid = [
            _lay(lives[i], turn, stretches[i], air, each) for i, each in zip(taking_part, theirs, strict=True)
        ]
        ends = [_end(lives[i], turn) for i in taking_part]
        limits = [lives[i].dips[turn].limits for i in taking_part]
        for i, start, dried in zip(taking_part, laid, advance(laid, ends, air, theirs, limits), strict=True):
            stretches[i].append(Stretch(lives[i].dips[turn], start, dried))
    return [tuple(done) for done in stretches]


def _lay(life: Life, turn: int, before: list[Stretch], air: AirSeries, parameters: Parameters) -> ZoneState:
    given = life.dips[turn]
    if before:
        under = before[-1].dried.state
    else:
        under = hang(life.shape, float(air.at(np.array([given.at_s])).temperature_k[0]), given.at_s)
    return dip(under, given.coat, given.immersion_s, parameters)


def _end(life: Life, turn: int) -> float:
    return life.dips[turn + 1].at_s if turn + 1 < len(life.dips) else life.until_s
