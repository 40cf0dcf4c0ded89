"""What failed shells share, as a page: what stands out first, what could not be said and why after it."""

from __future__ import annotations

from functools import partial
from typing import Any

from markupsafe import Markup

from api.dots import dots
from api.failure_links import asking, shells_address
from service import words
from service.failures.factors import YES_NO
from service.failures.views import (
    Comparison,
    Dot,
    Failures,
    KindFound,
    Looked,
    Shares,
    Why,
)
from service.records.shop_facts import Site
from service.voice import say


def failures_context(failures: Failures, site: Site | None) -> dict[str, Any]:
    """Everything its template needs."""
    return {
        "result": words.result_line(failures),
        "looked": words.looked_line(failures),
        "within": failures.looked is Looked.WITHIN_RECIPES,
        "together_address": "/failures",
        "within_address": f"/failures{asking(Looked.WITHIN_RECIPES)}",
        "json_address": f"/api/failures{asking(failures.looked)}",
        "kinds": [_kind(kind, failures, site) for kind in failures.kinds if kind.why is None],
        "too_few": [words.kind_unsaid_line(kind) for kind in failures.kinds if kind.why is not None],
        "needed": _needed(failures),
        "failures": failures,
        "floor": words.floor_line(failures),
    }


def _needed(failures: Failures) -> str:
    """Said once, of the largest kind that was too small, or of none."""
    small = [kind for kind in failures.kinds if kind.why is Why.TOO_FEW_FAILED]
    if not small or not failures.comparisons:
        return ""
    return words.needed_line(max(small, key=lambda kind: kind.failed), failures.comparisons)


def _kind(found: KindFound, failures: Failures, site: Site | None) -> dict[str, Any]:
    clear = [c for c in found.comparisons if c.stands_out]
    rest = [c for c in found.comparisons if not c.stands_out]
    return {
        "title": words.kind_title(found.kind),
        "shells": words.shells(found.failed),
        "findings": [_finding(c, failures, site) for c in clear],
        "nothing": "" if clear else words.nothing_line(found),
        "needed": words.needed_line(found, failures.comparisons)
        if found.failed < found.failed_needed
        else "",
        "rest": [_row(c, failures, site) for c in rest],
        "unsaid": [words.unsaid_line(unsaid) for unsaid in found.unsaid],
    }


def _finding(found: Comparison, failures: Failures, site: Site | None) -> dict[str, Any]:
    address = shells_address(found, failures.looked)
    return {
        "sentence": words.finding_line(found, site),
        "pairs": words.pairs_line(found),
        "chance": words.chance_line(found),
        "within": words.within_line(found),
        "unknown": words.unknown_line(found),
        "small": words.small_print(found, failures.looked, failures.comparisons, site),
        "drawing": drawing(found, address, site),
        "address": address,
    }


def drawing(found: Comparison, address: str, site: Site | None) -> Markup:
    shown = partial(_value, found, site=site)
    label = say(
        "{thing}: failed shells above the line, sound ones below it", thing=words.factor_name(found.factor)
    )
    return dots(found.failed, found.sound, shown, label, address, found.factor in YES_NO)


def _value(found: Comparison, value: float, site: Site | None) -> str:
    if found.factor in YES_NO and value <= 0:
        return say("none") if value == 0 else say("{number} more", number=f"{-value:g}")
    return words.factor_value(found.factor, value, site)


def _row(found: Comparison, failures: Failures, site: Site | None) -> dict[str, Any]:
    """One line of what does not stand out."""
    effect = found.effect
    if isinstance(effect, Shares):
        failed, sound = (
            say("{had} of {every}", had=had, every=every)
            for had, every in ((effect.failed_with, effect.failed), (effect.sound_with, effect.sound))
        )
    else:
        failed, sound = (
            words.factor_value(found.factor, v, site) for v in (effect.failed_middle, effect.sound_middle)
        )
    return {
        "name": words.factor_name(found.factor),
        "failed": failed,
        "sound": sound,
        "p": words.p_words(found.p).removeprefix("p ").removeprefix("= "),
        "holm": words.p_words(found.p_holm).removeprefix("p ").removeprefix("= "),
        "could": found.could_stand_out,
        "unknown": words.unknown_line(found),
        "address": shells_address(found, failures.looked),
    }


def shells_context(found: Comparison, failures: Failures, site: Site | None) -> dict[str, Any]:
    """The shells behind one comparison, the most first."""
    address = shells_address(found, failures.looked)
    return {
        "title": words.factor_name(found.factor),
        "kind": words.kind_title(found.kind),
        "sentence": words.finding_line(found, site),
        "pairs": words.pairs_line(found),
        "chance": words.chance_line(found),
        "within": words.within_line(found),
        "unknown": words.unknown_line(found),
        "small": words.small_print(found, failures.looked, failures.comparisons, site),
        "drawing": drawing(found, address, site),
        "back": f"/failures{asking(failures.looked)}",
        "shells": _shells(found, site),
    }


def _shells(found: Comparison, site: Site | None) -> list[tuple[Dot, str, bool]]:
    every = [*((dot, True) for dot in found.failed), *((dot, False) for dot in found.sound)]
    every.sort(key=lambda pair: (-pair[0].value, not pair[1], pair[0].name))
    return [(dot, _value(found, dot.value, site), failed) for dot, failed in every]
