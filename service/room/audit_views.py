"""What the audit of one shell tells besides its coats, as plain frozen data: SI floats, aware UTC instants."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

Range = tuple[float, float]


class Known(StrEnum):
    """How something is known. The first two are facts, the last is an inference."""

    RECORDED = "recorded"  # somebody wrote it down
    MEASURED = "measured"  # a sensor or a scale told it
    WORKED_OUT = "worked out"  # the drying model makes it of what was recorded and measured


class TooWet(StrEnum):
    """How sure it is that a coat was above its limit."""

    SURELY = "surely"  # in nine of ten lives with other numbers at least
    LIKELY = "likely"  # by the plain estimate
    PERHAPS = "perhaps"  # in one of ten at least


@dataclass(frozen=True, slots=True)
class TankChecked:
    """The last check of a tank before a dip. `age_s`: how old it was at the dip."""

    number: int
    at: datetime
    age_s: float
    flow_s: float | None
    temperature_k: float | None
    density_kg_m3: float | None
    ph: float | None
    made_new: bool
    text: str


@dataclass(frozen=True, slots=True)
class FinalDry:
    """From the last coat asked for to the end (or to now): asked against given. Water: kg a kg dry shell."""

    asked_s: float
    waited_s: float
    water_limit: float
    water_share: float | None  # of the slowest place at the end; None: no air was measured
    likely_water: Range | None  # 10 to 90 %; None while it hangs
    dry_at: datetime | None  # since when every place was at the limit
    still_hangs: bool
    wettest_place: str = ""  # where the most water was at the end; empty: it has one place only


@dataclass(frozen=True, slots=True)
class WeighedPair:
    """Two weighings one after the other: how much more (or, negative, less) it weighed, and how much was worked out.

    computed_kg_m2: change of coats and water a square metre; computed_kg: over the area that fits best.
    """

    since: datetime
    until: datetime
    measured_kg: float
    computed_kg_m2: float | None
    computed_kg: float | None
    coats: tuple[int, ...]  # dips between the two
    wires: bool  # wire was set between the two: its weight is not known


@dataclass(frozen=True, slots=True)
class Weighings:
    """All weighings, pair by pair. `area_m2`: what fits best the `fitted` pairs with neither dip nor wire between."""

    pairs: tuple[WeighedPair, ...]
    area_m2: float | None
    fitted: int
    told_area_m2: float  # the faces of the zones as their sizes say


class Odd(StrEnum):
    """What may stand out."""

    COATS_MISSING = "coats missing"
    COAT_EXTRA = "coat not asked"
    OTHER_KIND = "other kind"
    OTHER_TANK = "other tank"
    NO_WIRES = "no wires"
    TOO_WET = "too wet"
    SHORT_WAIT = "short wait"
    LONG_WAIT = "long wait"
    AIR = "air"
    UNMEASURED = "unmeasured"
    FELT_DAMP = "felt damp"
    LEFT_DAMP = "left damp"
    SHORT_FINAL = "short final dry"
    WEIGHT = "weight"
    UNLIKE_SOUND = "unlike sound shells"


@dataclass(frozen=True, slots=True)
class AmongSound:
    """How a number lies among this foundry's sound shells. `spreads`: how many of their spreads beyond the middle."""

    count: int
    middle: float
    spreads: float


@dataclass(frozen=True, slots=True)
class StandsOut:
    """One thing that stands out. `distance` ranks it: steps beyond the recipe, and beyond the sound shells.

    given, asked: in words, where it is not a number. of: for air, which way it was wrong; for what only differs from
    sound shells, the factor.
    """

    odd: Odd
    known: Known
    distance: float
    steps: float
    coats: tuple[int, ...] = ()
    value: float | None = None
    wanted: float | None = None
    lasted_s: float | None = None
    likely: Range | None = None
    too_wet: TooWet | None = None
    place: str = ""
    given: str = ""
    asked: str = ""
    of: str = ""
    among: AmongSound | None = None
