"""What failed shells share, in sentences. Nothing here says why: what differs goes together with failing, no more."""

from __future__ import annotations

from dataclasses import replace

from service.counted import counted
from service.failures.sizes import comparisons_at_the_floor, ways_at_the_floor
from service.failures.views import (
    LEAST_FAILED,
    LEAST_SOUND,
    LIMIT,
    Comparison,
    Failures,
    KindFound,
    Shares,
    Shift,
    Unsaid,
    Why,
)
from service.records.facts import FaultKind
from service.records.shop_facts import Site
from service.words.failure_factors import HAD, NAMES, SIDES, factor_value

KINDS = {
    FaultKind.RUN_OUT: "ran out",
    FaultKind.SHELL_OPENED: "opened",
    FaultKind.CRACK: "cracked",
    FaultKind.FIN: "gave fins",
    FaultKind.SOFT_SURFACE: "came soft or shed stucco",
    FaultKind.INCLUSION: "gave inclusions",
    FaultKind.BULGE: "bulged",
    FaultKind.DEWAX_CRACK: "cracked at dewax",
    FaultKind.COLD_SHUT: "gave a cold shut or misrun",
    FaultKind.OTHER: "failed in another way",
    None: "failed",
}
ONCE_IN_AT_MOST = 1000


def kind_title(kind: FaultKind | None) -> str:
    """``Run-out``, or ``Failed, whatever the fault``."""
    if kind is None:
        return "Failed, whatever the fault"
    return "Failed in another way" if kind is FaultKind.OTHER else str(kind).capitalize()


def shells(count: int) -> str:
    """``9 shells``."""
    return counted(count, "shell")


def shells_that(count: int, kind: FaultKind | None) -> str:
    """``9 shells that ran out``."""
    return f"{shells(count)} that {KINDS[kind]}"


def result_line(found: Failures) -> str:
    """How many came out how."""
    every = found.sound + found.failed + found.without_result
    if found.to_come:
        are = "is" if found.to_come == 1 else "are"
        rest = result_line(replace(found, to_come=0)) if every else ""
        return f"{rest} {found.to_come} more that left {are} still being worked out: look again in a while.".strip()
    if not every:
        return "No mould has left the shell room yet."
    left = f"Of {counted(every, 'mould')} that left the shell room"
    told = f"{left}, {found.sound} came out sound and {found.failed} failed"
    if not found.without_result:
        return f"{told}."
    if found.without_result == 1:
        return f"{told}; of one nobody has said how it came out, and it counts for nothing here."
    return f"{told}; of {found.without_result} nobody has said how they came out, and they count for nothing here."


def finding_line(found: Comparison, site: Site | None) -> str:
    """What differs, with counts."""
    effect = found.effect
    return _shares_line(found, effect) if isinstance(effect, Shares) else _shift_line(found, effect, site)


def _shares_line(found: Comparison, s: Shares) -> str:
    return (
        f"Of {shells_that(s.failed, found.kind)}, {_none(s.failed_with)} {HAD[found.factor]}; "
        f"of {s.sound} sound ones, {_none(s.sound_with)} had."
    )


def _shift_line(found: Comparison, s: Shift, site: Site | None) -> str:
    failed, sound = (factor_value(found.factor, v, site) for v in (s.failed_middle, s.sound_middle))
    many, others = shells_that(len(found.failed), found.kind), f"{len(found.sound)} sound ones"
    if failed == sound:
        return f"{NAMES[found.factor]}: {failed} for the middle one of {many} and of {others} alike."
    return f"{NAMES[found.factor]}: {failed} for the middle one of {many}, {sound} for the middle one of {others}."


def pairs_line(found: Comparison) -> str:
    """How far the two groups lie apart. Empty for a yes or no, where the counts say it."""
    effect = found.effect
    if isinstance(effect, Shares):
        return ""
    share = effect.superiority if effect.more else 1 - effect.superiority
    side = SIDES[found.factor][not effect.more]
    return (
        f"Of 100 pairs of a failed and a sound one, the failed one has the {side} in about {100 * share:.0f}."
    )


def chance_line(found: Comparison) -> str:
    """How often chance would show as much, over all that was looked at."""
    if not found.stands_out:
        return "Chance alone would show as much somewhere among all that was compared too often to call it anything."
    return f"Chance alone would show so much somewhere among all that was compared {once_in(found.p_holm)}."


def once_in(p: float) -> str:
    """``about once in 400 shops like this one``, two figures, rounded down."""
    if p * ONCE_IN_AT_MOST < 1:
        return f"less than once in {ONCE_IN_AT_MOST:,} shops like this one"
    shops = int(1 / p * (1 + 1e-12))
    return f"about once in {shops if shops < 100 else shops // 10 * 10} shops like this one"


def within_line(found: Comparison) -> str:
    """Whether it holds among shells of one recipe. Empty: there is nothing to say of it."""
    within = found.within
    if within is None:
        return ""
    if not within.enough:
        return (
            f"Too few shells share a recipe to see whether it holds within one ({within.failed} failed and "
            f"{within.sound} sound): it may be the recipes that differ."
        )
    if within.p <= LIMIT and within.more == found.effect.more:
        return "Held only against shells of the same recipe, it is still there."
    return (
        "Held only against shells of the same recipe, it is no longer clear: "
        "it may be the recipes that differ."
    )


def unknown_line(found: Comparison | Unsaid) -> str:
    """How many shells it is not known for. Empty: none."""
    failed, sound = found.unknown_failed, found.unknown_sound
    if not failed and not sound:
        return ""
    return f"Not known for {failed} failed and {sound} sound: left out, not guessed."


def unsaid_line(unsaid: Unsaid) -> str:
    """Why nothing can be said of a factor."""
    name = NAMES[unsaid.factor]
    if unsaid.why is Why.HARDLY_VARIES:
        return f"{name}: hardly varies, so it cannot tell failed from sound."
    if not unsaid.failed and not unsaid.sound:
        return f"{name}: not known."
    return (
        f"{name}: known for {unsaid.failed} failed and {unsaid.sound} sound, "
        f"asked are {LEAST_FAILED} and {LEAST_SOUND}."
    )


def kind_unsaid_line(found: KindFound) -> str:
    """Why nothing was looked at for a kind of failing."""
    if found.why is Why.TOO_FEW_SOUND:
        return (
            f"{shells_that(found.failed, found.kind)}, but only {counted(found.sound, 'sound one')} to hold them "
            f"against: at least {LEAST_SOUND} are asked."
        )
    return f"{shells_that(found.failed, found.kind)}: at least {LEAST_FAILED} are asked."


def needed_line(found: KindFound, comparisons: int) -> str:
    """With which size something could stand out at all."""
    return (
        f"With {counted(comparisons, 'comparison')}, the clearest must rest on at least {found.failed_needed} failed "
        f"beside {found.sound} sound ones to stand out; there {'is' if found.failed == 1 else 'are'} {found.failed}."
    )


def floor_line(found: Failures) -> str:
    """From how many shells on something is said, and what so few can show at best."""
    here = f", and here are {found.comparisons}" if found.comparisons else ""
    return (
        f"Something is said only with at least {LEAST_FAILED} failed and {LEAST_SOUND} sound shells it is known for. "
        f"Of exactly so many, chance alone keeps failed and sound wholly apart 2 times in {ways_at_the_floor():,}: "
        f"that can stand out among up to {comparisons_at_the_floor()} comparisons{here}."
    )


def looked_line(found: Failures) -> str:
    """How much was looked at, and what that asks of each."""
    if not found.comparisons:
        return "Nothing was compared."
    alone = LIMIT / found.comparisons
    return (
        f"Comparisons made on this page: {found.comparisons}. Something stands out if chance alone would show as much "
        f"anywhere among them in at most {100 * LIMIT:.0f} of 100 shops; for that the clearest must reach "
        f"p = {alone:.2g} by itself."
    )


def nothing_line(found: KindFound) -> str:
    """For a kind of which nothing stands out."""
    count = len(found.comparisons)
    if not count:
        return "Nothing could be compared."
    if not any(c.could_stand_out for c in found.comparisons):
        return f"Too few to say: of {count} things looked at, none could have stood out, however large the difference."
    return f"Nothing stands out: of {count} things looked at, none differs by more than chance may show."


def _none(count: int) -> str:
    return str(count) if count else "none"
