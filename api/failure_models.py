"""What failures share as JSON."""

from __future__ import annotations

import math

from api.failure_links import shells_address
from api.models import Out, example
from service import words
from service.failures.views import (
    Comparison,
    Dot,
    Failures,
    KindFound,
    Looked,
    Method,
    Shares,
    Shift,
    Unsaid,
    Why,
)
from service.records.facts import FaultKind
from service.records.shop_facts import Site
from service.room.views import Factor

SHARES = {
    "failed_with": 7,
    "failed": 9,
    "sound_with": 6,
    "sound": 41,
    "odds_ratio": 18.1,
    "odds_low": 2.7,
    "odds_high": 223.0,
    "words": "Odds ratio 18 (exact 95 % interval 2.7 to 223).",
}
WITHIN = {
    "p": 0.002,
    "method": "exact table",
    "more": True,
    "failed": 9,
    "sound": 30,
    "recipes": 2,
    "enough": True,
}
COMPARISON = {
    "factor": "early dips",
    "sentence": "Of 9 shells that ran out, 7 had a coat dipped too early; of 41 sound ones, 6 had.",
    "stands_out": True,
    "could_stand_out": True,
    "p": 0.0004,
    "p_holm": 0.013,
    "p_discovery": 0.007,
    "least_p": 1e-6,
    "method": "exact table",
    "draws": None,
    "shares": SHARES,
    "shift": None,
    "unknown_failed": 0,
    "unknown_sound": 2,
    "within_recipes": WITHIN,
    "failed_shells": [{"mould_id": 12, "value": 1.0}],
    "page": "/failures/run-out/early-dips",
}
UNSAID = {
    "factor": "thickness",
    "why": "hardly varies",
    "failed": 9,
    "sound": 41,
    "unknown_failed": 0,
    "unknown_sound": 0,
}
KIND = {
    "kind": "run-out",
    "failed": 9,
    "sound": 41,
    "failed_needed": 5,
    "why": None,
    "comparisons": [COMPARISON],
    "unsaid": [UNSAID],
}


class SharesOut(Out):
    """How many had it. odds_*: null where there is no bound or no number; `words` says which."""

    model_config = example(SHARES)
    failed_with: int
    failed: int
    sound_with: int
    sound: int
    odds_ratio: float | None
    odds_low: float | None
    odds_high: float | None
    words: str


class ShiftOut(Out):
    """In the factor's own unit. superiority: of pairs of a failed and a sound shell, where the failed one has more."""

    failed_middle: float
    sound_middle: float
    superiority: float
    shift: float


class WithinOut(Out):
    """The same held only against shells of the same recipe."""

    model_config = example(WITHIN)
    p: float
    method: Method
    more: bool
    failed: int
    sound: int
    recipes: int
    enough: bool


class ShellOut(Out):
    """One shell, and what the factor was for it."""

    mould_id: int
    value: float


class ComparisonOut(Out):
    """One factor, failed against sound. p_holm, p_discovery: corrected for all comparisons of this answer."""

    model_config = example(COMPARISON)
    factor: Factor
    sentence: str
    stands_out: bool
    could_stand_out: bool
    p: float
    p_holm: float
    p_discovery: float
    least_p: float
    method: Method
    draws: int | None
    shares: SharesOut | None
    shift: ShiftOut | None
    unknown_failed: int
    unknown_sound: int
    within_recipes: WithinOut | None
    failed_shells: list[ShellOut]
    page: str


class UnsaidOut(Out):
    """A factor nothing can be said of, and why."""

    model_config = example(UNSAID)
    factor: Factor
    why: Why
    failed: int
    sound: int
    unknown_failed: int
    unknown_sound: int


class KindOut(Out):
    """One kind of failing; null: whatever the fault. why: nothing was compared, and this is why."""

    model_config = example(KIND)
    kind: FaultKind | None
    failed: int
    sound: int
    failed_needed: int
    why: Why | None
    comparisons: list[ComparisonOut]
    unsaid: list[UnsaidOut]


class FailuresOut(Out):
    """Over all finished moulds: what goes together with failing. Never why."""

    model_config = example(
        {
            "looked": "all together",
            "sound": 41,
            "failed": 12,
            "without_result": 3,
            "comparisons": 24,
            "kinds": [KIND],
            "to_come": 0,
        }
    )
    looked: Looked
    sound: int
    failed: int
    without_result: int
    comparisons: int
    kinds: list[KindOut]
    to_come: int


def failures_out(found: Failures, site: Site | None) -> FailuresOut:
    return FailuresOut(
        looked=found.looked,
        sound=found.sound,
        failed=found.failed,
        without_result=found.without_result,
        comparisons=found.comparisons,
        kinds=[_kind(kind, found.looked, site) for kind in found.kinds],
        to_come=found.to_come,
    )


def _kind(kind: KindFound, looked: Looked, site: Site | None) -> KindOut:
    return KindOut(
        kind=kind.kind,
        failed=kind.failed,
        sound=kind.sound,
        failed_needed=kind.failed_needed,
        why=kind.why,
        comparisons=[_comparison(c, looked, site) for c in kind.comparisons],
        unsaid=[_unsaid(unsaid) for unsaid in kind.unsaid],
    )


def _comparison(c: Comparison, looked: Looked, site: Site | None) -> ComparisonOut:
    return ComparisonOut(
        factor=c.factor,
        sentence=words.finding_line(c, site),
        stands_out=c.stands_out,
        could_stand_out=c.could_stand_out,
        p=c.p,
        p_holm=c.p_holm,
        p_discovery=c.p_discovery,
        least_p=c.least_p,
        method=c.method,
        draws=c.draws,
        shares=_shares(c.effect) if isinstance(c.effect, Shares) else None,
        shift=ShiftOut.model_validate(c.effect) if isinstance(c.effect, Shift) else None,
        unknown_failed=c.unknown_failed,
        unknown_sound=c.unknown_sound,
        within_recipes=WithinOut.model_validate(c.within) if c.within else None,
        failed_shells=[_shell(dot) for dot in c.failed],
        page=shells_address(c, looked),
    )


def _shell(dot: Dot) -> ShellOut:
    return ShellOut(mould_id=dot.mould_id, value=dot.value)


def _shares(effect: Shares) -> SharesOut:
    return SharesOut(
        failed_with=effect.failed_with,
        failed=effect.failed,
        sound_with=effect.sound_with,
        sound=effect.sound,
        odds_ratio=_finite(effect.odds_ratio),
        odds_low=_finite(effect.odds_low),
        odds_high=_finite(effect.odds_high),
        words=words.odds_words(effect),
    )


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _unsaid(unsaid: Unsaid) -> UnsaidOut:
    return UnsaidOut.model_validate(unsaid)
