"""What was not as asked in a mould's life, in sentences."""

from __future__ import annotations

from service.local_time import span
from service.records.facts import NO_TANK
from service.records.shop_facts import Site
from service.room.views import AirFault, AirWrong, CoatAudit
from service.units import Dimension, show_apart
from service.words.moulds import tank_words
from service.words.numbers import percent, units_of

AIR_WRONG = {
    AirWrong.TOO_WARM: (Dimension.TEMPERATURE, "at most"),
    AirWrong.TOO_COLD: (Dimension.TEMPERATURE, "at least"),
    AirWrong.TOO_DAMP: (Dimension.FRACTION, "at most"),
    AirWrong.TOO_DRY: (Dimension.FRACTION, "at least"),
    AirWrong.SWUNG: (Dimension.TEMPERATURE_DIFFERENCE, "at most"),
}


def coat_faults(coat: CoatAudit, site: Site | None) -> list[str]:
    """What was not as asked, one sentence each."""
    wet = f", {percent(coat.saturation_at_next_dip)} full of water" if coat.saturation_at_next_dip else ""
    lines = [
        (coat.kind_given is None, "Not given"),
        (coat.kind_asked is None, "One more than the recipe asks"),
        (_differs(coat.kind_asked, coat.kind_given), f"{coat.kind_given} given, {coat.kind_asked} asked"),
        (
            _differs(coat.tank_asked, coat.tank_given) and coat.tank_given != NO_TANK,
            f"From {_tank(coat.tank_given)}, asked {_tank(coat.tank_asked)}",
        ),
        (coat.early, f"Next coat went on early{wet}: {coat.early_reason or 'no reason given'}"),
        (coat.late, "Next coat went on after the longest wait"),
        (coat.wires_asked and not coat.wires_given, "Reinforcement wire asked, none recorded"),
        (coat.air_gap_s >= 60, f"No measured air for {span(coat.air_gap_s)} of the wait"),
    ]
    return [words for wrong, words in lines if wrong] + [
        air_fault_line(fault, coat, site) for fault in coat.air_faults
    ]


def air_fault_line(fault: AirFault, coat: CoatAudit, site: Site | None) -> str:
    """``Air too dry for a prime coat: 34 % at worst, at least 50 % asked; 5 h 20 min in all``."""
    dimension, side = AIR_WRONG[fault.wrong]
    worst, wanted = show_apart(fault.worst, fault.wanted, dimension, units_of(site))
    if fault.wrong is AirWrong.SWUNG:
        return f"Air swung {worst} under a {coat.kind_given} coat, at most {wanted} asked"
    how_long = f"{span(fault.lasted_s)} in all"
    return (
        f"Air {fault.wrong} for a {coat.kind_given} coat: {worst} at worst, {side} {wanted} asked; {how_long}"
    )


def _differs(asked: str | None, given: str | None) -> bool:
    return asked is not None and given is not None and asked != given


def _tank(tank: str | None) -> str:
    return tank_words(tank) if tank else "no tank named"
