"""All that is known of one mould's life, as the smoother takes it. SI floats; times are seconds since 1970 (UTC)."""

from __future__ import annotations

from dataclasses import dataclass

from service.drying.shell import Coat, ZoneShape
from service.drying.zone import Limits
from service.learning.effect import Effect

Effects = tuple[Effect, ...]


@dataclass(frozen=True, slots=True)
class StoryZone:
    """A place of the mould. area_m2: as its sizes make it; nobody measured it. pocket: what stirs its air, if one."""

    name: str
    shape: ZoneShape
    area_m2: float
    pocket: Effects = ()


@dataclass(frozen=True, slots=True)
class StoryDip:
    """A coat laid at `at_s`, what is waited for after it, and the shop's effects that bear on it."""

    at_s: float
    coat: Coat
    immersion_s: float
    limits: Limits
    draught: Effects
    drying: Effects
    thickness: Effects
    soaking: Effects


@dataclass(frozen=True, slots=True)
class Weighed:
    """The mould on a scale, hook and wax and all. `number` names the evidence, for whoever asks."""

    number: int
    at_s: float
    mass_kg: float


@dataclass(frozen=True, slots=True)
class FaceRead:
    """The temperature of a zone's face: an infrared gun, or a thermocouple. zone: its index."""

    number: int
    at_s: float
    zone: int
    temperature_k: float


@dataclass(frozen=True, slots=True)
class Felt:
    """A hand on the newest coat. zone: its index; None: the whole mould, as damp as its dampest zone."""

    number: int
    at_s: float
    zone: int | None
    dry: bool


@dataclass(frozen=True, slots=True)
class Redipped:
    """What became of coat `coat` (from 1) when the next was laid on it: it shed, or it held."""

    number: int
    at_s: float
    coat: int
    shed: bool


Evidence = Weighed | FaceRead | Felt | Redipped


@dataclass(frozen=True, slots=True)
class Story:
    """One mould: its zones, its dips by time, what was heard of it by time, and up to when it is told.

    changes_s: when wire was set or anything else was hung on it, so that weights before and after are not comparable.
    """

    mould: int
    zones: tuple[StoryZone, ...]
    dips: tuple[StoryDip, ...]
    evidence: tuple[Evidence, ...]
    until_s: float
    changes_s: tuple[float, ...] = ()
