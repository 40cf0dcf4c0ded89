"""What failed shells share, in sentences. Nothing here says why: what differs goes together with failing, no more."""

from __future__ import annotations

from dataclasses import replace

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
from service.listed import capital
from service.records.facts import FaultKind
from service.records.shop_facts import Site
from service.terms import term
from service.voice import later_many, say, say_many
from service.words.failure_factors import HAD, NAMES, SIDES, factor_value

KINDS = {
    FaultKind.RUN_OUT: later_many("{number} shell that ran out", "{number} shells that ran out"),
    FaultKind.SHELL_OPENED: later_many("{number} shell that opened", "{number} shells that opened"),
    FaultKind.CRACK: later_many("{number} shell that cracked", "{number} shells that cracked"),
    FaultKind.FIN: later_many("{number} shell that gave fins", "{number} shells that gave fins"),
    FaultKind.SOFT_SURFACE: later_many(
        "{number} shell that came soft or shed stucco", "{number} shells that came soft or shed stucco"
    ),
    FaultKind.INCLUSION: later_many(
        "{number} shell that gave inclusions", "{number} shells that gave inclusions"
    ),
    FaultKind.BULGE: later_many("{number} shell that bulged", "{number} shells that bulged"),
    FaultKind.DEWAX_CRACK: later_many(
        "{number} shell that cracked at dewax", "{number} shells that cracked at dewax"
    ),
    FaultKind.COLD_SHUT: later_many(
        "{number} shell that gave a cold shut or misrun", "{number} shells that gave a cold shut or misrun"
    ),
    FaultKind.OTHER: later_many(
        "{number} shell that failed in another way", "{number} shells that failed in another way"
    ),
    None: later_many("{number} shell that failed", "{number} shells that failed"),
}
ONCE_IN_AT_MOST = 1000


def kind_title(kind: FaultKind | None) -> str:
    """``Run-out``, or ``Failed, whatever the fault``."""
    if kind is None:
        return say("Failed, whatever the fault")
    return say("Failed in another way") if kind is FaultKind.OTHER else capital(term(kind))


def shells(count: int) -> str:
    """``9 shells``."""
    return say_many("{number} shell", "{number} shells", count)


def shells_that(count: int, kind: FaultKind | None) -> str:
    """``9 shells that ran out``."""
    return say_many(*KINDS[kind], count)


def result_line(found: Failures) -> str:
    """How many came out how."""
    every = found.sound + found.failed + found.without_result
    if found.to_come:
        rest = result_line(replace(found, to_come=0)) if every else ""
        more = say_many(
            "{number} more that left is still being worked out: look again in a while.",
            "{number} more that left are still being worked out: look again in a while.",
            found.to_come,
        )
        return f"{rest} {more}".strip()
    if not every:
        return say("No mould has left the shell room yet.")
    told = say_many(
        "Of {number} mould that left the shell room, {sound} came out sound and {failed} failed",
        "Of {number} moulds that left the shell room, {sound} came out sound and {failed} failed",
        every,
        sound=found.sound,
        failed=found.failed,
    )
    if not found.without_result:
        return f"{told}."
    return say_many(
        "{told}; of one nobody has said how it came out, and it counts for nothing here.",
        "{told}; of {number} nobody has said how they came out, and they count for nothing here.",
        found.without_result,
        told=told,
    )


def finding_line(found: Comparison, site: Site | None) -> str:
    """What differs, with counts."""
    effect = found.effect
    return _shares_line(found, effect) if isinstance(effect, Shares) else _shift_line(found, effect, site)


def _shares_line(found: Comparison, s: Shares) -> str:
    had, failed_with, sound_with = say(HAD[found.factor]), _none(s.failed_with), _none(s.sound_with)
    failed = shells_that(s.failed, found.kind)
    return say(
        "Of {failed}, {failed_with} {had}; of {sound} sound ones, {sound_with} had.",
        failed=failed,
        failed_with=failed_with,
        had=had,
        sound=s.sound,
        sound_with=sound_with,
    )


def _shift_line(found: Comparison, s: Shift, site: Site | None) -> str:
    failed, sound = (factor_value(found.factor, v, site) for v in (s.failed_middle, s.sound_middle))
    name, many, others = (
        say(NAMES[found.factor]),
        shells_that(len(found.failed), found.kind),
        len(found.sound),
    )
    if failed == sound:
        return say(
            "{name}: {failed} for the middle one of {many} and of {others} sound ones alike.",
            name=name,
            failed=failed,
            many=many,
            others=others,
        )
    return say(
        "{name}: {failed} for the middle one of {many}, {sound} for the middle one of {others} sound ones.",
        name=name,
        failed=failed,
        many=many,
        sound=sound,
        others=others,
    )


def pairs_line(found: Comparison) -> str:
    """How far the two groups lie apart. Empty for a yes or no, where the counts say it."""
    effect = found.effect
    if isinstance(effect, Shares):
        return ""
    share = effect.superiority if effect.more else 1 - effect.superiority
    side, pairs = say(SIDES[found.factor][not effect.more]), 100 * share
    return say(
        "Of 100 pairs of a failed and a sound one, the failed one has the {side} in about {pairs:.0f}.",
        side=side,
        pairs=pairs,
    )


def chance_line(found: Comparison) -> str:
    """How often chance would show as much, over all that was looked at."""
    if not found.stands_out:
        return say(
            "Chance alone would show as much somewhere among all that was compared too often to call it "
            "anything."
        )
    return say(
        "Chance alone would show so much somewhere among all that was compared {once_in}.",
        once_in=once_in(found.p_holm),
    )


def once_in(p: float) -> str:
    """``about once in 400 shops like this one``, two figures, rounded down."""
    if p * ONCE_IN_AT_MOST < 1:
        return say(
            "less than once in {once_in_at_most:,} shops like this one", once_in_at_most=ONCE_IN_AT_MOST
        )
    shops = int(1 / p * (1 + 1e-12))
    shops = shops if shops < 100 else shops // 10 * 10
    return say("about once in {shops} shops like this one", shops=shops)


def within_line(found: Comparison) -> str:
    """Whether it holds among shells of one recipe. Empty: there is nothing to say of it."""
    within = found.within
    if within is None:
        return ""
    if not within.enough:
        return say(
            "Too few shells share a recipe to see whether it holds within one ({failed} failed and {sound} "
            "sound): it may be the recipes that differ.",
            failed=within.failed,
            sound=within.sound,
        )
    if within.p <= LIMIT and within.more == found.effect.more:
        return say("Held only against shells of the same recipe, it is still there.")
    return say(
        "Held only against shells of the same recipe, it is no longer clear: it may be the recipes that "
        "differ."
    )


def unknown_line(found: Comparison | Unsaid) -> str:
    """How many shells it is not known for. Empty: none."""
    failed, sound = found.unknown_failed, found.unknown_sound
    if not failed and not sound:
        return ""
    return say(
        "Not known for {failed} failed and {sound} sound: left out, not guessed.", failed=failed, sound=sound
    )


def unsaid_line(unsaid: Unsaid) -> str:
    """Why nothing can be said of a factor."""
    name = say(NAMES[unsaid.factor])
    if unsaid.why is Why.HARDLY_VARIES:
        return say("{name}: hardly varies, so it cannot tell failed from sound.", name=name)
    if not unsaid.failed and not unsaid.sound:
        return say("{name}: not known.", name=name)
    return say(
        "{name}: known for {failed} failed and {sound} sound, asked are {least_failed} and {least_sound}.",
        name=name,
        failed=unsaid.failed,
        sound=unsaid.sound,
        least_failed=LEAST_FAILED,
        least_sound=LEAST_SOUND,
    )


def kind_unsaid_line(found: KindFound) -> str:
    """Why nothing was looked at for a kind of failing."""
    if found.why is Why.TOO_FEW_SOUND:
        return say_many(
            "{failed}, but only {number} sound one to hold them against: at least {least} are asked.",
            "{failed}, but only {number} sound ones to hold them against: at least {least} are asked.",
            found.sound,
            failed=shells_that(found.failed, found.kind),
            least=LEAST_SOUND,
        )
    failed = shells_that(found.failed, found.kind)
    return say("{failed}: at least {least_failed} are asked.", failed=failed, least_failed=LEAST_FAILED)


def needed_line(found: KindFound, comparisons: int) -> str:
    """With which size something could stand out at all."""
    needed = say_many(
        "With {number} comparison, the clearest must rest on at least {failed} failed beside {sound} sound ones "
        "to stand out",
        "With {number} comparisons, the clearest must rest on at least {failed} failed beside {sound} sound ones "
        "to stand out",
        comparisons,
        failed=found.failed_needed,
        sound=found.sound,
    )
    return say_many(
        "{needed}; there is {number}.", "{needed}; there are {number}.", found.failed, needed=needed
    )


def floor_line(found: Failures) -> str:
    """From how many shells on something is said, and what so few can show at best."""
    floor = say(
        "Something is said only with at least {failed} failed and {sound} sound shells it is known for. "
        "Of exactly so many, chance alone keeps failed and sound wholly apart 2 times in {ways:,}: "
        "that can stand out among up to {comparisons} comparisons",
        failed=LEAST_FAILED,
        sound=LEAST_SOUND,
        ways=ways_at_the_floor(),
        comparisons=comparisons_at_the_floor(),
    )
    if found.comparisons:
        return say("{floor}, and here are {comparisons}.", floor=floor, comparisons=found.comparisons)
    return f"{floor}."


def looked_line(found: Failures) -> str:
    """How much was looked at, and what that asks of each."""
    if not found.comparisons:
        return say("Nothing was compared.")
    alone = LIMIT / found.comparisons
    return say(
        "Comparisons made on this page: {comparisons}. Something stands out if chance alone would show "
        "as much anywhere among them in at most {limit:.0f} of 100 shops; for that the clearest must "
        "reach p = {alone:.2g} by itself.",
        comparisons=found.comparisons,
        limit=100 * LIMIT,
        alone=alone,
    )


def nothing_line(found: KindFound) -> str:
    """For a kind of which nothing stands out."""
    count = len(found.comparisons)
    if not count:
        return say("Nothing could be compared.")
    if not any(c.could_stand_out for c in found.comparisons):
        return say(
            "Too few to say: of {count} things looked at, none could have stood out, however large the "
            "difference.",
            count=count,
        )
    return say(
        "Nothing stands out: of {count} things looked at, none differs by more than chance may show.",
        count=count,
    )


def _none(count: int) -> str:
    return str(count) if count else say("none")
