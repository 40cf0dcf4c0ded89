"""What was found when failed shells were held against sound ones, as plain frozen data. Shares of 1, SI.

Says what differs and what goes together, never why. Worded by `service.words`, shown by `api`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from service.records.facts import FaultKind
from service.room.views import Factor

LIMIT = 0.05
"""What stands out does so by chance alone in at most this share of shops, over everything looked at."""
LEAST_FAILED, LEAST_SOUND = 5, 10
"""Below these nothing is said. With exactly so many the rarest outcome has p = 2/3003, which is still under the
corrected limit with up to 75 comparisons: about as many as a page holds."""


class Looked(StrEnum):
    """In which way shells were held against each other."""

    TOGETHER = "all together"
    WITHIN_RECIPES = "within recipes"


class Method(StrEnum):
    TABLE = "exact table"  # Fisher's; within recipes its counterpart over several tables
    RANKS = "exact ranks"  # every way of choosing the failed ones was counted
    DRAWN_RANKS = "drawn ranks"  # too many ways: some were drawn at random


class Why(StrEnum):
    """Why nothing can be said."""

    TOO_FEW_FAILED = "too few failed"
    TOO_FEW_SOUND = "too few sound"
    HARDLY_VARIES = "hardly varies"


@dataclass(frozen=True, slots=True)
class Dot:
    """One shell, and what one factor was for it."""

    mould_id: int
    name: str
    recipe: str
    value: float


@dataclass(frozen=True, slots=True)
class Shares:
    """A yes or no: how many had it. odds_ratio: infinite where every failed shell and not every sound one had it.

    odds_low, odds_high: the exact 95 % interval.
    """

    failed_with: int
    failed: int
    sound_with: int
    sound: int
    odds_ratio: float
    odds_low: float
    odds_high: float

    @property
    def more(self) -> bool:
        """Failed shells had it more often."""
        return self.odds_ratio > 1


@dataclass(frozen=True, slots=True)
class Shift:
    """A number: where the middle of each group lies.

    superiority: of all pairs of a failed and a sound shell, the share in which the failed one has more; ties half.
    shift: the middle of all their differences (Hodges and Lehmann), failed minus sound.
    """

    failed_middle: float
    sound_middle: float
    superiority: float
    shift: float

    @property
    def more(self) -> bool:
        return self.superiority > 0.5


@dataclass(frozen=True, slots=True)
class WithinRecipes:
    """The same held only against shells of the same recipe. `recipes`: those with a failed and a sound shell."""

    p: float
    method: Method
    more: bool
    failed: int
    sound: int
    recipes: int
    enough: bool


@dataclass(frozen=True, slots=True)
class Comparison:
    """One factor, failed against sound shells. kind None: whatever the fault.

    p: for this comparison alone. p_holm: corrected for all on the page. p_discovery: by Benjamini and Hochberg.
    least_p: the smallest that these shells could have given; could_stand_out: whether that would have been enough.
    draws: how many were drawn, where not all were counted.
    within: only for what stands out, when looked at all together and there is more than one recipe.
    """

    kind: FaultKind | None
    factor: Factor
    failed: tuple[Dot, ...]
    sound: tuple[Dot, ...]
    unknown_failed: int
    unknown_sound: int
    recipes: int
    effect: Shares | Shift
    method: Method
    draws: int | None
    p: float
    p_holm: float
    p_discovery: float
    least_p: float
    could_stand_out: bool
    within: WithinRecipes | None = None

    @property
    def stands_out(self) -> bool:
        return self.p_holm <= LIMIT


@dataclass(frozen=True, slots=True)
class Unsaid:
    """A factor nothing can be said of, and why."""

    factor: Factor
    why: Why
    failed: int  # shells it is known for
    sound: int
    unknown_failed: int
    unknown_sound: int


@dataclass(frozen=True, slots=True)
class KindFound:
    """One kind of failing: comparisons with the clearest first. why: nothing was looked at, and this is why."""

    kind: FaultKind | None
    failed: int
    sound: int
    failed_needed: int  # so many failed beside these sound ones for the clearest comparison to stand out
    comparisons: tuple[Comparison, ...]
    unsaid: tuple[Unsaid, ...]
    why: Why | None = None


@dataclass(frozen=True, slots=True)
class Failures:
    """Over all finished moulds."""

    looked: Looked
    sound: int
    failed: int
    without_result: int
    comparisons: int
    kinds: tuple[KindFound, ...]
    to_come: int = 0  # how many more left that are still to be worked out
