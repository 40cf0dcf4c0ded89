"""What was heard of a mould, what it was worth, and what the shop taught, as screens show it. SI, aware instants."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from service.learning.effect import EffectKind


class HeardKind(StrEnum):
    WEIGHT = "weight"
    FACE = "face"
    FELT = "felt"
    REDIP = "redip"


@dataclass(frozen=True, slots=True)
class HeardNow:
    """One piece of evidence of a mould, and what it was held against.

    number: of its fact; None for what a sensor on the mould told. said: kg since the weighing before, K, or 1.0 for
    "dry"/"held" and 0.0 for "still damp"/"shed". expected, spread: what all else led to expect, in the same unit;
    of a hand or a redip the chance 0..1 of what was said (spread 0). left_out: too far off to be believed.
    against_at: of a weight, when the weighing was that it is held against: the one before it, or of the first since a
    dip the one after. None: not told.
    """

    kind: HeardKind
    number: int | None
    at: datetime
    zone: str | None
    coat: int | None
    said: float
    expected: float
    spread: float
    surprise: float
    left_out: bool
    against_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class LearnedEffect:
    """One thing the shop taught: how many times the usual number holds here, with its 10 and 90 %.

    of: as `Effect.of`; of a hook or a recipe what it has of its own together with what the whole shop has. likely, low,
    high: multipliers now; at_first_low, at_first_high: before anything was heard. pieces: how many pieces of evidence
    bear on it by kind; moulds: of how many moulds, mould_ids: which, the newest evidence last. newest_at: the newest of
    them. learned_anew_at: since when only newer evidence counts.
    """

    kind: EffectKind
    of: str
    likely: float
    low: float
    high: float
    at_first_low: float
    at_first_high: float
    pieces: tuple[tuple[HeardKind, int], ...]
    moulds: int
    newest_at: datetime | None
    learned_anew_at: datetime | None = None
    mould_ids: tuple[int, ...] = ()
