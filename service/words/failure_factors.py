"""What of a shell's making is held against how it came out: its name, its numbers with their units."""

from __future__ import annotations

from service.local_time import span
from service.records.shop_facts import Site
from service.room.views import Factor
from service.words.numbers import length, percent, temperature_difference, water_share

NAMES = {
    Factor.EARLY_DIPS: "A coat dipped too early",
    Factor.WETTEST_COAT: "Wettest coat when the next went on, against its limit",
    Factor.PRIME_SWING: "Swing of the air while prime was the newest coat",
    Factor.PRIME_TOO_DRY: "Time in air too dry for prime",
    Factor.COATS_SHORT: "Fewer coats than asked",
    Factor.THICKNESS: "Thickness of all coats, by the recipe",
    Factor.WIRES_SHORT: "Wires asked but not recorded",
    Factor.LATE_DIPS: "A coat dipped after its longest wait",
    Factor.TANK_AGE: "Oldest slurry check a coat was dipped on",
    Factor.UNMEASURED: "Share of its life without measured air",
    Factor.WATER_AT_END: "Water left in the shell when it went to dewax",
    Factor.FINAL_WAIT: "Wait after the last coat",
}
HAD = {
    Factor.EARLY_DIPS: "had a coat dipped too early",
    Factor.COATS_SHORT: "had fewer coats than the recipe asks",
    Factor.WIRES_SHORT: "had wires asked but not recorded",
    Factor.LATE_DIPS: "had a coat dipped after its longest wait",
}
SIDES = {
    Factor.EARLY_DIPS: ("more", "fewer"),
    Factor.WETTEST_COAT: ("wetter coat", "drier coat"),
    Factor.PRIME_SWING: ("larger swing", "smaller swing"),
    Factor.PRIME_TOO_DRY: ("longer time", "shorter time"),
    Factor.COATS_SHORT: ("fewer", "more"),
    Factor.THICKNESS: ("thicker shell", "thinner shell"),
    Factor.WIRES_SHORT: ("more", "fewer"),
    Factor.LATE_DIPS: ("more", "fewer"),
    Factor.TANK_AGE: ("older check", "newer check"),
    Factor.UNMEASURED: ("larger share", "smaller share"),
    Factor.WATER_AT_END: ("more water", "less water"),
    Factor.FINAL_WAIT: ("longer wait", "shorter wait"),
}
"""What the failed one of a pair has: of the larger number, of the smaller."""

SECONDS = frozenset({Factor.PRIME_TOO_DRY, Factor.TANK_AGE, Factor.FINAL_WAIT})


def factor_name(factor: Factor) -> str:
    return NAMES[factor]


def factor_value(factor: Factor, value: float, site: Site | None) -> str:
    """One shell's, with its unit: ``3.1 °C``, ``12 % over its limit``, ``2``."""
    if factor is Factor.WETTEST_COAT:
        return f"{percent(abs(value))} {'over' if value > 0 else 'under'} its limit"
    return _amount(factor, value, site)


def factor_difference(factor: Factor, value: float, site: Site | None) -> str:
    """By how much failed ones have more or less: ``1.6 °C more``."""
    return f"{_amount(factor, abs(value), site)} {'less' if value < 0 else 'more'}"


def _amount(factor: Factor, value: float, site: Site | None) -> str:
    if factor in SECONDS:
        return span(value) if value > 0 else "none"
    if factor is Factor.PRIME_SWING:
        return temperature_difference(value, site)
    if factor is Factor.THICKNESS:
        return length(value, site)
    if factor is Factor.WATER_AT_END:
        return water_share(value)
    return percent(value) if factor in (Factor.WETTEST_COAT, Factor.UNMEASURED) else f"{value:g}"
