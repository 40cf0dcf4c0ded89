"""What was not as asked in a mould's life, in sentences."""

from __future__ import annotations

from service.local_time import span
from service.records.facts import NO_TANK
from service.records.shop_facts import Site
from service.room.views import AirFault, AirWrong, Audit, CoatAudit
from service.terms import term
from service.units import Dimension, show_apart
from service.voice import say, say_many
from service.words.moulds import tank_words
from service.words.numbers import percent, units_of

AIR_WRONG = {
    AirWrong.TOO_WARM: Dimension.TEMPERATURE,
    AirWrong.TOO_COLD: Dimension.TEMPERATURE,
    AirWrong.TOO_DAMP: Dimension.FRACTION,
    AirWrong.TOO_DRY: Dimension.FRACTION,
    AirWrong.SWUNG: Dimension.TEMPERATURE_DIFFERENCE,
}
AT_MOST = (AirWrong.TOO_WARM, AirWrong.TOO_DAMP, AirWrong.SWUNG)


def worked_with_line(audit: Audit) -> str:
    """With which numbers its life was worked out. Empty where nothing was."""
    if audit.from_notebook:
        return ""
    if audit.heard:
        return say_many(
            "Worked out with what the shop taught, and one thing that was heard of this shell itself.",
            "Worked out with what the shop taught, and {number} things that were heard of this shell itself.",
            audit.heard,
        )
    if audit.learned:
        return say("Worked out with what other shells of this shop taught.")
    return say("Worked out with the usual numbers: nothing was learned yet.")


def coat_faults(coat: CoatAudit, site: Site | None) -> list[str]:
    """What was not as asked, one sentence each."""
    given, asked = term(coat.kind_given or ""), term(coat.kind_asked or "")
    lines = [
        (coat.kind_given is None, say("Not given")),
        (coat.kind_asked is None, say("One more than the recipe asks")),
        (
            _differs(coat.kind_asked, coat.kind_given),
            say("{given} given, {asked} asked", given=given, asked=asked),
        ),
        (
            _differs(coat.tank_asked, coat.tank_given) and coat.tank_given != NO_TANK,
            say(
                "From {tank_given}, asked {tank_asked}",
                tank_given=_tank(coat.tank_given),
                tank_asked=_tank(coat.tank_asked),
            ),
        ),
        (coat.early, _early(coat)),
        (coat.late, say("Next coat went on after the longest wait")),
        (coat.wires_asked and not coat.wires_given, say("Reinforcement wire asked, none recorded")),
        (
            coat.air_gap_s >= 60,
            say("No measured air for {air_gap_s} of the wait", air_gap_s=span(coat.air_gap_s)),
        ),
    ]
    return [words for wrong, words in lines if wrong] + [
        air_fault_line(fault, coat, site) for fault in coat.air_faults
    ]


def _early(coat: CoatAudit) -> str:
    reason = coat.early_reason or say("no reason given")
    if coat.saturation_at_next_dip:
        wet = percent(coat.saturation_at_next_dip)
        return say("Next coat went on early, {wet} full of water: {reason}", wet=wet, reason=reason)
    return say("Next coat went on early: {reason}", reason=reason)


def air_fault_line(fault: AirFault, coat: CoatAudit, site: Site | None) -> str:
    """``Air too dry for a prime coat: 34 % at worst, at least 50 % asked; 5 h 20 min in all``."""
    worst, wanted = show_apart(fault.worst, fault.wanted, AIR_WRONG[fault.wrong], units_of(site))
    kind = term(coat.kind_given or "")
    if fault.wrong is AirWrong.SWUNG:
        return say(
            "Air swung {worst} under a {kind} coat, at most {wanted} asked",
            worst=worst,
            kind=kind,
            wanted=wanted,
        )
    wrongly, lasted = term(fault.wrong), span(fault.lasted_s)
    if fault.wrong in AT_MOST:
        return say(
            "Air {wrongly} for a {kind} coat: {worst} at worst, at most {wanted} asked; {lasted} in all",
            wrongly=wrongly,
            kind=kind,
            worst=worst,
            wanted=wanted,
            lasted=lasted,
        )
    return say(
        "Air {wrongly} for a {kind} coat: {worst} at worst, at least {wanted} asked; {lasted} in all",
        wrongly=wrongly,
        kind=kind,
        worst=worst,
        wanted=wanted,
        lasted=lasted,
    )


def _differs(asked: str | None, given: str | None) -> bool:
    return asked is not None and given is not None and asked != given


def _tank(tank: str | None) -> str:
    return tank_words(tank) if tank else say("no tank named")
