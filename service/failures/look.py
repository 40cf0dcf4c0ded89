"""Every kind of failing against the sound shells, factor by factor, corrected for all that was looked at."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.failures.correction import benjamini_hochberg, holm
from service.failures.factors import Dots, known
from service.failures.ranks import ENOUGH
from service.failures.sample import Sample, split_by_recipe
from service.failures.sizes import failed_needed, too_few
from service.failures.views import (
    LIMIT,
    Comparison,
    Failures,
    KindFound,
    Looked,
    Shares,
    Unsaid,
    Why,
    WithinRecipes,
)
from service.records.facts import FaultKind
from service.room.views import Factor, ShellSummary

Shells = Sequence[ShellSummary]


@dataclass(frozen=True, slots=True)
class _Asked:
    """A kind of failing and what is to be compared for it."""

    kind: FaultKind | None
    failed: int
    samples: tuple[Sample, ...]
    unsaid: tuple[Unsaid, ...]
    why: Why | None


def look(shells: Shells, looked: Looked = Looked.TOGETHER) -> Failures:
    """What failed shells share. Exact, and the same for the same shells."""
    sound = [s for s in shells if s.verdict == "sound"]
    failed = [s for s in shells if s.verdict == "failed"]
    dots = known([*failed, *sound])
    asked = [_ask(kind, some, sound, dots, looked) for kind, some in kinds(failed)]
    compared = _compare([sample for each in asked for sample in each.samples], looked)
    return Failures(
        looked=looked,
        sound=len(sound),
        failed=len(failed),
        without_result=len(shells) - len(sound) - len(failed),
        comparisons=len(compared),
        kinds=tuple(_found(each, len(sound), compared) for each in asked),
    )


def kinds(failed: Shells) -> list[tuple[FaultKind | None, list[ShellSummary]]]:
    """Each kind that was seen with its shells, and all of them where that is not the same again."""
    seen = [(kind, [s for s in failed if kind in s.faults]) for kind in FaultKind]
    found: list[tuple[FaultKind | None, list[ShellSummary]]] = [(k, some) for k, some in seen if some]
    whole = any(len(some) == len(failed) for _, some in found)
    return found if whole or not failed else [(None, list(failed)), *found]


def _ask(kind: FaultKind | None, failed: Shells, sound: Shells, dots: Dots, looked: Looked) -> _Asked:
    why = too_few(len(failed), len(sound))
    if why is not None:
        return _Asked(kind, len(failed), (), (), why)
    samples = [_sample(kind, factor, failed, sound, dots, looked) for factor in dots]
    reasons = [sample.unsaid() for sample in samples]
    kept = tuple(sample for sample, reason in zip(samples, reasons, strict=True) if reason is None)
    return _Asked(kind, len(failed), kept, tuple(r for r in reasons if r is not None), None)


def _sample(
    kind: FaultKind | None, factor: Factor, failed: Shells, sound: Shells, dots: Dots, looked: Looked
) -> Sample:
    of = dots[factor]
    ours = tuple(of[s.mould_id] for s in failed if s.mould_id in of)
    theirs = tuple(of[s.mould_id] for s in sound if s.mould_id in of)
    within = looked is Looked.WITHIN_RECIPES
    strata = split_by_recipe(ours, theirs) if within else ((ours, theirs),)
    return Sample(kind, factor, strata, len(failed) - len(ours), len(sound) - len(theirs))


def _compare(samples: Sequence[Sample], looked: Looked) -> list[Comparison]:
    """All that is compared, corrected together."""
    limit = LIMIT / max(len(samples), 1)
    draws = math.ceil(ENOUGH / limit)
    single = [_one(sample, draws) for sample in samples]
    ps = [each.p for each in single]
    corrected = [
        replace(each, p_holm=h, p_discovery=d, could_stand_out=_could(i, each.least_p, ps))
        for i, (each, h, d) in enumerate(zip(single, holm(ps), benjamini_hochberg(ps), strict=True))
    ]
    if looked is Looked.WITHIN_RECIPES:
        return corrected
    return [replace(c, within=_within(c, draws)) if c.stands_out else c for c in corrected]


def _one(sample: Sample, draws: int) -> Comparison:
    p, method, drawn = sample.tested(draws)
    least = min(sample.least_p(), p)
    failed, sound = sample.failed, sample.sound
    return Comparison(
        kind=sample.kind,
        factor=sample.factor,
        failed=failed,
        sound=sound,
        unknown_failed=sample.unknown_failed,
        unknown_sound=sample.unknown_sound,
        recipes=len({dot.recipe for dot in (*failed, *sound)}),
        effect=sample.effect(),
        method=method,
        draws=drawn,
        p=p,
        p_holm=p,
        p_discovery=p,
        least_p=least,
        could_stand_out=False,
    )


def _could(i: int, least: float, ps: Sequence[float]) -> bool:
    """Whether the clearest picture these shells can give would have stood out, the others being as they are."""
    return holm([*ps[:i], least, *ps[i + 1 :]])[i] <= LIMIT


def _within(found: Comparison, draws: int) -> WithinRecipes | None:
    """Whether it holds among shells of one recipe too. As it can only weaken what was found, it needs no correction."""
    if found.recipes < 2:
        return None
    strata = split_by_recipe(found.failed, found.sound)
    sample = Sample(found.kind, found.factor, strata, 0, 0)
    failed, sound = len(sample.failed), len(sample.sound)
    if sample.unsaid() is not None:
        return WithinRecipes(1.0, found.method, False, failed, sound, len(strata), False)
    p, method, _ = sample.tested(draws)
    return WithinRecipes(p, method, sample.effect().more, failed, sound, len(strata), True)


def _found(asked: _Asked, sound: int, compared: Sequence[Comparison]) -> KindFound:
    ours = [c for c in compared if c.kind == asked.kind]
    return KindFound(
        kind=asked.kind,
        failed=asked.failed,
        sound=sound,
        failed_needed=failed_needed(sound, len(compared)),
        comparisons=tuple(sorted(ours, key=_clearest)),
        unsaid=asked.unsaid,
        why=asked.why,
    )


def _clearest(found: Comparison) -> tuple[float, float]:
    effect = found.effect
    if isinstance(effect, Shares):
        size = abs(effect.failed_with / effect.failed - effect.sound_with / effect.sound)
    else:
        size = abs(effect.superiority - 0.5)
    return found.p, -size
