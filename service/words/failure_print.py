"""The small print under a finding: the names and numbers a statistician asks for."""

from __future__ import annotations

import math

from service.failures.factors import YES_NO
from service.failures.views import Comparison, Looked, Method, Shares, Shift
from service.records.shop_facts import Site
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
            "Exact test over one table a recipe (Birch), two-sided"
            if within
            else "Fisher's exact test, two-sided"
        )
    name = "Rank-sum test within recipes (van Elteren)" if within else "Rank-sum test (Mann and Whitney)"
    if found.method is Method.RANKS:
        return f"{name}, ties as they are, every way counted, two-sided"
    return f"{name}, ties as they are, {found.draws or 0:,} random ways drawn (the same ones each time), two-sided"


def p_words(p: float) -> str:
    return "p under 0.0001" if p < 1e-4 else f"p = {p:.2g}"


def _corrected(found: Comparison, comparisons: int) -> str:
    return (
        f"Corrected by Holm for {comparisons} comparisons: {p_words(found.p_holm)}; "
        f"by Benjamini and Hochberg: {p_words(found.p_discovery)}."
    )


def _within(found: Comparison) -> str:
    within = found.within
    if within is None or not within.enough:
        return ""
    recipes = f"{within.recipes} recipe{'s' if within.recipes != 1 else ''}"
    shells = f"{within.failed} failed and {within.sound} sound shells of {recipes}"
    return f"Within recipes: {p_words(within.p)} ({shells})."


def _effect(effect: Shares | Shift, found: Comparison, site: Site | None) -> str:
    if isinstance(effect, Shares):
        failed, sound = effect.failed_with / effect.failed, effect.sound_with / effect.sound
        points = f"a difference of {100 * (failed - sound):+.0f} points"
        return f"{100 * failed:.0f} % against {100 * sound:.0f} %, {points}. {odds_words(effect)}"
    return (
        f"Failed above sound in {100 * effect.superiority:.0f} of 100 pairs, ties half; middle of all differences "
        f"(Hodges and Lehmann): {factor_difference(found.factor, effect.shift, site)}."
    )


def odds_words(effect: Shares) -> str:
    """``Odds ratio 18 (exact 95 % interval 3.1 to 150).``, and why where it has no number."""
    if math.isnan(effect.odds_ratio):
        return "No odds ratio: all had it, or none."
    ratio, low, high = (_figures(odds) for odds in (effect.odds_ratio, effect.odds_low, effect.odds_high))
    if math.isinf(effect.odds_ratio):
        return f"Odds ratio without bound ({_why(effect, True)}), at least {low} (exact 95 % interval)."
    if effect.odds_ratio == 0:
        return f"Odds ratio 0 ({_why(effect, False)}), at most {high} (exact 95 % interval)."
    return f"Odds ratio {ratio} (exact 95 % interval {low} to {high})."


def _why(effect: Shares, more: bool) -> str:
    """Which cell is empty."""
    if more:
        return "no sound shell had it" if effect.sound_with == 0 else "every failed shell had it"
    return "no failed shell had it" if effect.failed_with == 0 else "every sound shell had it"


def _figures(value: float) -> str:
    """Two figures, and no powers of ten: ``0.31``, ``18``, ``223``."""
    return f"{value:.2g}" if value < 99.5 else f"{value:,.0f}"
