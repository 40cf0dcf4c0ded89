"""What of a shell's making is held against how it came out: its name, its numbers with their units."""

from __future__ import annotations

from service.local_time import span
from service.records.shop_facts import Site
from service.room.views import Factor
from service.voice import later, say
from service.words.numbers import length, percent, temperature_difference, water_share

NAMES = {
    Factor.EARLY_DIPS: later("A coat dipped too early"),
    Factor.WETTEST_COAT: later("Wettest coat when the next went on, against its limit"),
    Factor.PRIME_SWING: later("Swing of the air while prime was the newest coat"),
    Factor.PRIME_TOO_DRY: later("Time in air too dry for prime"),
    Factor.COATS_SHORT: later("Fewer coats than asked"),
    Factor.THICKNESS: later("Thickness of all coats, by the recipe"),
    Factor.WIRES_SHORT: later("Wires asked but not recorded"),
    Factor.LATE_DIPS: later("A coat dipped after its longest wait"),
    Factor.TANK_AGE: later("Oldest slurry check a coat was dipped on"),
    Factor.UNMEASURED: later("Share of its life without measured air"),
    Factor.WATER_AT_END: later("Water left in the shell when it went to dewax"),
    Factor.FINAL_WAIT: later("Wait after the last coat"),
}
HAD = {
    Factor.EARLY_DIPS: later("had a coat dipped too early"),
    Factor.COATS_SHORT: later("had fewer coats than the recipe asks"),
    Factor.WIRES_SHORT: later("had wires asked but not recorded"),
    Factor.LATE_DIPS: later("had a coat dipped after its longest wait"),
}
SIDES = {
    Factor.EARLY_DIPS: (later("more"), later("fewer")),
    Factor.WETTEST_COAT: (later("wetter coat"), later("drier coat")),
    Factor.PRIME_SWING: (later("larger swing"), later("smaller swing")),
    Factor.PRIME_TOO_DRY: (later("longer time"), later("shorter time")),
    Factor.COATS_SHORT: (later("fewer"), later("more")),
    Factor.THICKNESS: (later("thicker shell"), later("thinner shell")),
    Factor.WIRES_SHORT: (later("more"), later("fewer")),
    Factor.LATE_DIPS: (later("more"), later("fewer")),
    Factor.TANK_AGE: (later("older check"), later("newer check")),
    Factor.UNMEASURED: (later("larger share"), later("smaller share")),
    Factor.WATER_AT_END: (later("more water"), later("less water")),
    Factor.FINAL_WAIT: (later("longer wait"), later("shorter wait")),
}
"""What the failed one of a pair has: of the larger number, of the smaller."""

SECONDS = frozenset({Factor.PRIME_TOO_DRY, Factor.TANK_AGE, Factor.FINAL_WAIT})


def factor_name(factor: Factor) -> str:
    return say(NAMES[factor])


def factor_value(factor: Factor, value: float, site: Site | None) -> str:
    """One shell's, with its unit: ``3.1 °C``, ``12 % over its limit``, ``2``."""
    if factor is Factor.WETTEST_COAT:
        share = percent(abs(value))
        return (
            say("{share} over its limit", share=share)
            if value > 0
            else say("{share} under its limit", share=share)
        )
    return _amount(factor, value, site)


def factor_difference(factor: Factor, value: float, site: Site | None) -> str:
    """By how much failed ones have more or less: ``1.6 °C more``."""
    amount = _amount(factor, abs(value), site)
    return say("{amount} less", amount=amount) if value < 0 else say("{amount} more", amount=amount)


def _amount(factor: Factor, value: float, site: Site | None) -> str:
    if factor in SECONDS:
        return span(value) if value > 0 else say("none")
    if factor is Factor.PRIME_SWING:
        return temperature_difference(value, site)
    if factor is Factor.THICKNESS:
        return length(value, site)
    if factor is Factor.WATER_AT_END:
        return water_share(value)
    return percent(value) if factor in (Factor.WETTEST_COAT, Factor.UNMEASURED) else f"{value:g}"
