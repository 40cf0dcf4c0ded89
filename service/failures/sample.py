"""The shells of one comparison, and what can be asked of them."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.failures import ranks, tables
from service.failures.factors import YES_NO, has
from service.failures.ranks import Group
from service.failures.sizes import too_few
from service.failures.tables import Table
from service.failures.views import LIMIT, Dot, Method, Shares, Shift, Unsaid, Why
from service.records.facts import FaultKind
from service.room.views import Factor

Stratum = tuple[tuple[Dot, ...], tuple[Dot, ...]]


@dataclass(frozen=True, slots=True)
class Sample:
    """One factor of failed and sound shells, in strata: one, or one a recipe."""

    kind: FaultKind | None
    factor: Factor
    strata: tuple[Stratum, ...]
    unknown_failed: int
    unknown_sound: int

    @property
    def failed(self) -> tuple[Dot, ...]:
        return tuple(dot for failed, _ in self.strata for dot in failed)

    @property
    def sound(self) -> tuple[Dot, ...]:
        return tuple(dot for _, sound in self.strata for dot in sound)

    @property
    def yes_no(self) -> bool:
        return self.factor in YES_NO

    def tables(self) -> list[Table]:
        return [Table(_with(failed), len(failed), _with(sound), len(sound)) for failed, sound in self.strata]

    def groups(self) -> list[Group]:
        return [Group(_values(failed), _values(sound)) for failed, sound in self.strata]

    def least_p(self) -> float:
        return tables.least_p(self.tables()) if self.yes_no else ranks.least_p(self.groups())

    def unsaid(self) -> Unsaid | None:
        """Why nothing can be said, if so.

        What could not have reached the limit even alone is left out: it could show nothing, and as it could never
        be taken for something by chance either, the others need no correction for it (R. E. Tarone, Biometrics 46
        (1990) 515).
        """
        failed, sound = len(self.failed), len(self.sound)
        why = too_few(failed, sound) or (Why.HARDLY_VARIES if self.least_p() > LIMIT else None)
        if why is None:
            return None
        return Unsaid(self.factor, why, failed, sound, self.unknown_failed, self.unknown_sound)

    def tested(self, most_draws: int) -> tuple[float, Method, int | None]:
        """p, how it was found, and how many ways were drawn. The same shells give the same p each time."""
        if self.yes_no:
            return tables.exact_p(self.tables()), Method.TABLE, None
        p, drawn = ranks.rank_test(self.groups(), most_draws, self._seed())
        return p, Method.RANKS if drawn is None else Method.DRAWN_RANKS, drawn

    def effect(self) -> Shares | Shift:
        return self._shares() if self.yes_no else self._shift()

    def _shares(self) -> Shares:
        odds, low, high = tables.odds_ratio(self.tables())
        failed, sound = self.failed, self.sound
        return Shares(_with(failed), len(failed), _with(sound), len(sound), odds, low, high)

    def _shift(self) -> Shift:
        groups = self.groups()
        return Shift(
            float(np.median(_values(self.failed))),
            float(np.median(_values(self.sound))),
            ranks.superiority(groups),
            ranks.shift(groups),
        )

    def _seed(self) -> int:
        return zlib.crc32(f"{self.kind} {self.factor}".encode())


def split_by_recipe(failed: Sequence[Dot], sound: Sequence[Dot]) -> tuple[Stratum, ...]:
    """One stratum a recipe, of those with a failed and a sound shell: of the others nothing can be learned."""
    recipes = sorted({dot.recipe for dot in failed} & {dot.recipe for dot in sound})
    return tuple((_of(recipe, failed), _of(recipe, sound)) for recipe in recipes)


def _of(recipe: str, dots: Sequence[Dot]) -> tuple[Dot, ...]:
    return tuple(dot for dot in dots if dot.recipe == recipe)


def _with(dots: Sequence[Dot]) -> int:
    return sum(has(dot.value) for dot in dots)


def _values(dots: Sequence[Dot]) -> ranks.Floats:
    return np.array([dot.value for dot in dots], dtype=np.float64)
