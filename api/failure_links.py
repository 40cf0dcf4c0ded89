"""The addresses of what failures share: a word for each kind of failing and each factor."""

from __future__ import annotations

from service.errors import NotFound
from service.failures.views import Comparison, Failures, Looked
from service.records.facts import FaultKind
from service.room.views import Factor
from service.voice import later, say

ANY = "any"
WITHIN = "recipe"
NO_SUCH = later("Look at what failures share, and choose from there.")


def kind_word(kind: FaultKind | None) -> str:
    """``run-out``; ``any`` for whatever the fault."""
    return kind.name.lower().replace("_", "-") if kind else ANY


def factor_word(factor: Factor) -> str:
    return factor.name.lower().replace("_", "-")


def looked_of(within: str) -> Looked:
    """What ``?within=`` asks for. Raises NotFound for another word than ``recipe``."""
    if within not in ("", WITHIN):
        raise NotFound(
            "looked_unknown",
            say("Shells cannot be held together by “{within}”.", within=within),
            say(NO_SUCH),
            "within",
        )
    return Looked.WITHIN_RECIPES if within else Looked.TOGETHER


def asking(looked: Looked) -> str:
    return f"?within={WITHIN}" if looked is Looked.WITHIN_RECIPES else ""


def shells_address(found: Comparison, looked: Looked) -> str:
    """Where the shells behind a comparison are listed."""
    return f"/failures/{kind_word(found.kind)}/{factor_word(found.factor)}{asking(looked)}"


def find_comparison(failures: Failures, kind: str, factor: str) -> Comparison:
    """The one an address means. Raises NotFound, also for one that was not made."""
    made = (c for each in failures.kinds for c in each.comparisons)
    found = next((c for c in made if (kind_word(c.kind), factor_word(c.factor)) == (kind, factor)), None)
    if found is None:
        raise NotFound(
            "comparison_unknown",
            say("Nothing was compared under “{kind}” and “{factor}”.", kind=kind, factor=factor),
            say(NO_SUCH),
        )
    return found
