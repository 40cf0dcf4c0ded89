"""The small print under a finding: the names and numbers a statistician asks for."""

from __future__ import annotations

import math

from service.failures.factors import YES_NO
from service.failures.views import Comparison, Looked, Method, Shares, Shift
from service.records.shop_facts import Site
from service.voice import say, say_many
from service.words.failure_factors import factor_difference


def small_print(found: Comparison, looked: Looked, comparisons: int, site: Site | None) -> str:
    """Test, p, correction, effect."""
    tested = f"{test_name(found, looked)}: {p_words(found.p)}."
    parts = [tested, _corrected(found, comparisons), _effect(found.effect, found, site), _within(found)]
    return " ".join(part for part in parts if part)


def test_name(found: Comparison, looked: Looked) -> str:
    within = looked is Looked.WITHIN_RECIPES
    if found.factor in YES_NO:
        return (
            say("Exact test over one table a recipe (Birch), two-sided")
            if within
            else say("Fisher's exact test, two-sided")
        )
    name = (
        say("Rank-sum test within recipes (van Elteren)")
        if within
        else say("Rank-sum test (Mann and Whitney)")
    )
    if found.method is Method.RANKS:
        return say("{name}, ties as they are, every way counted, two-sided", name=name)
    draws = found.draws or 0
    return say(
        "{name}, ties as they are, {draws:,} random ways drawn (the same ones each time), two-sided",
        name=name,
        draws=draws,
    )


def p_words(p: float) -> str:
    return say("p under 0.0001") if p < 1e-4 else f"p = {p:.2g}"


def _corrected(found: Comparison, comparisons: int) -> str:
    return say(
        "Corrected by Holm for {comparisons} comparisons: {p_holm}; by Benjamini and Hochberg: {p_discovery}.",
        comparisons=comparisons,
        p_holm=p_words(found.p_holm),
        p_discovery=p_words(found.p_discovery),
    )


def _within(found: Comparison) -> str:
    within = found.within
    if within is None or not within.enough:
        return ""
    return say_many(
        "Within recipes: {p} ({failed} failed and {sound} sound shells of {number} recipe).",
        "Within recipes: {p} ({failed} failed and {sound} sound shells of {number} recipes).",
        within.recipes,
        p=p_words(within.p),
        failed=within.failed,
        sound=within.sound,
    )


def _effect(effect: Shares | Shift, found: Comparison, site: Site | None) -> str:
    if isinstance(effect, Shares):
        failed, sound = effect.failed_with / effect.failed, effect.sound_with / effect.sound
        shares = say(
            "{failed:.0f} % against {sound:.0f} %, a difference of {points:+.0f} points.",
            failed=100 * failed,
            sound=100 * sound,
            points=100 * (failed - sound),
        )
        return f"{shares} {odds_words(effect)}"
    return say(
        "Failed above sound in {superiority:.0f} of 100 pairs, ties half; middle of all differences "
        "(Hodges and Lehmann): {factor_difference}.",
        superiority=100 * effect.superiority,
        factor_difference=factor_difference(found.factor, effect.shift, site),
    )


def odds_words(effect: Shares) -> str:
    """``Odds ratio 18 (exact 95 % interval 3.1 to 150).``, and why where it has no number."""
    if math.isnan(effect.odds_ratio):
        return say("No odds ratio: all had it, or none.")
    ratio, low, high = (_figures(odds) for odds in (effect.odds_ratio, effect.odds_low, effect.odds_high))
    if math.isinf(effect.odds_ratio):
        return say(
            "Odds ratio without bound ({why}), at least {low} (exact 95 % interval).",
            why=_why(effect, True),
            low=low,
        )
    if effect.odds_ratio == 0:
        return say(
            "Odds ratio 0 ({why}), at most {high} (exact 95 % interval).", why=_why(effect, False), high=high
        )
    return say("Odds ratio {ratio} (exact 95 % interval {low} to {high}).", ratio=ratio, low=low, high=high)


def _why(effect: Shares, more: bool) -> str:
    """Which cell is empty."""
    if more:
        return say("no sound shell had it") if effect.sound_with == 0 else say("every failed shell had it")
    return say("no failed shell had it") if effect.failed_with == 0 else say("every sound shell had it")


def _figures(value: float) -> str:
    """Two figures, and no powers of ten: ``0.31``, ``18``, ``223``."""
    return f"{value:.2g}" if value < 99.5 else f"{value:,.0f}"
