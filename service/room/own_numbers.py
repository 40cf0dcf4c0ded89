"""The likeliest numbers of one mould, zone by zone: what was learned of it and of the shop, as multiples of the usual.

Plain numbers that can be compared and kept, so that whatever was worked out with others is known to be old. Pure.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from service.drying.history import Dip, Multipliers
from service.learning.smoother import Numbers
from service.room.spread import DOUBT

DIGITS = 6
"""Kept of each: more say nothing, and a kept number is then the very number that was worked with."""


@dataclass(frozen=True, slots=True)
class ZoneNumbers:
    """Of one zone, for each dip and coat from the first; for those beyond, as the last. Empty: as the model has it."""

    transfer: tuple[float, ...] = ()
    sorptivity: tuple[float, ...] = ()
    diffusivity: tuple[float, ...] = ()
    thickness: tuple[float, ...] = ()
    stirring: float = 1.0

    @property
    def dips(self) -> int:
        """For how many dips there are numbers."""
        return len(self.transfer)

    def lived(self, dips: Sequence[Dip]) -> tuple[Dip, ...]:
        """The same dips with what is this zone's own."""
        return tuple(dips) if not self.dips else tuple(self._own(n, dip) for n, dip in enumerate(dips))

    def _own(self, number: int, dip: Dip) -> Dip:
        i = min(number, self.dips - 1)
        coat = replace(
            dip.coat,
            thickness_m=dip.coat.thickness_m * self.thickness[i],
            diffusivity_multiplier=dip.coat.diffusivity_multiplier * self.diffusivity[i],
        )
        return replace(
            dip, coat=coat, multipliers=Multipliers(self.transfer[i], self.sorptivity[i], self.stirring)
        )

    def then(self, other: ZoneNumbers) -> ZoneNumbers:
        """These for the dips they are of, and the other's for those after."""
        n = self.dips
        return ZoneNumbers(
            self.transfer + other.transfer[n:],
            self.sorptivity + other.sorptivity[n:],
            self.diffusivity + other.diffusivity[n:],
            self.thickness + other.thickness[n:],
            self.stirring,
        )


AS_USUAL = ZoneNumbers()
Own = tuple[ZoneNumbers, ...]


@dataclass(frozen=True, slots=True)
class Learned:
    """What a life is worked out with. own: the likeliest numbers, none: the usual ones. doubt: as `spread.DOUBT`."""

    own: Own = ()
    doubt: tuple[float, ...] = DOUBT

    @property
    def digest(self) -> str:
        """The same text, the same numbers."""
        return hashlib.sha256(repr((self.own, self.doubt)).encode()).hexdigest()

    @property
    def of_the_usual(self) -> bool:
        """Whether nothing that was learned makes a difference."""
        return all(value == 1.0 for value in _all(self.own))


NOTHING_LEARNED = Learned()


def own_numbers(found: Iterable[Numbers]) -> Own:
    """What the smoother found likeliest, zone by zone."""
    return tuple(
        ZoneNumbers(
            _short(each.transfer),
            _short(each.sorptivity),
            _short(each.diffusivity),
            _short(each.thickness),
            _short([each.stirring])[0],
        )
        for each in found
    )


def packed(own: Own) -> list[dict[str, Any]]:
    """As plain data, to be kept."""
    return [asdict(each) for each in own]


def unpacked(kept: Iterable[Mapping[str, Any]]) -> Own:
    """The other way round from `packed`."""
    return tuple(
        ZoneNumbers(
            tuple(each["transfer"]),
            tuple(each["sorptivity"]),
            tuple(each["diffusivity"]),
            tuple(each["thickness"]),
            each["stirring"],
        )
        for each in kept
    )


def _short(values: Iterable[float]) -> tuple[float, ...]:
    return tuple(float(f"{value:.{DIGITS}g}") for value in values)


def furthest_apart(one: Own, other: Own) -> float:
    """The largest difference between two sets of numbers, as a share; inf where they are not of the same dips."""
    if [each.dips for each in one] != [each.dips for each in other]:
        return math.inf
    return max((abs(math.log(b / a)) for a, b in zip(_all(one), _all(other), strict=True)), default=0.0)


def _all(own: Own) -> list[float]:
    return [
        value
        for each in own
        for value in (
            *each.transfer,
            *each.sorptivity,
            *each.diffusivity,
            *each.thickness,
            each.stirring,
        )
    ]
