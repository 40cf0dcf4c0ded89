"""What stands out in the making of a shell, in sentences: what differs and by how much, never what caused it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import groupby

from service.local_time import span
from service.records.shop_facts import Site
from service.room.among_sound import ENOUGH, FAR
from service.room.audit_views import AmongSound, Known, Odd, StandsOut, TankChecked
from service.room.stands_out import factor_of
from service.room.views import AirWrong, Factor
from service.units import Dimension, show, show_apart
from service.words.audit import AIR_WRONG
from service.words.moulds import tank_words
from service.words.numbers import mass, percent, temperature_difference, units_of, water_share

Sentence = Callable[[StandsOut, Site | None], str]


def stands_out_line(item: StandsOut, site: Site | None) -> str:
    """One sentence with its numbers, and a second where sound shells can be compared with."""
    line = SENTENCES[item.odd](item, site)
    factor = Factor(item.of) if item.odd is Odd.UNLIKE_SOUND else factor_of(item)
    compared = _among(item.among, factor, site) if item.among and factor else ""
    return f"{line}.{f' {compared}.' if compared else ''}"


def known_words(known: Known) -> str:
    """How it is known: ``recorded``, ``measured``, ``worked out``."""
    return known.value


def compared_line(sound_shells: int) -> str:
    """What the ranking rests on."""
    if sound_shells >= ENOUGH:
        return f"Ranked by how far each lies outside the recipe and outside this foundry's {sound_shells} sound shells."
    have = {0: "none is", 1: "one is"}.get(sound_shells, f"{sound_shells} are")
    return (
        "Ranked by how far each lies outside the recipe alone: to compare with this foundry's sound shells "
        f"{ENOUGH} of them are needed, and {have} worked out so far."
    )


def likely_percent(share: float, likely: tuple[float, float] | None) -> str:
    """``31 % (likely 22 to 41 %)``; alone where no range is known."""
    if likely is None:
        return percent(share)
    return f"{percent(share)} (likely {_bare(percent(likely[0]))} to {percent(likely[1])})"


def likely_water(share: float, likely: tuple[float, float] | None) -> str:
    """``2.4 % (likely 1.9 to 3.1 %)``."""
    if likely is None:
        return water_share(share)
    return f"{water_share(share)} (likely {_bare(water_share(likely[0]))} to {water_share(likely[1])})"


def coats_named(coats: Sequence[int]) -> str:
    """``coat 3``, ``coats 3 to 9``, ``coats 1, 2 and 5 to 9``."""
    runs = [_run(list(run)) for _, run in groupby(enumerate(coats), key=lambda pair: pair[1] - pair[0])]
    name = "coats" if len(coats) > 1 else "coat"
    parts = [part for run in runs for part in run]
    return f"{name} {', '.join(parts[:-1])}{' and ' if parts[:-1] else ''}{parts[-1]}"


def tank_before_line(check: TankChecked, site: Site | None) -> str:
    """What a tank was found to be: ``2 days 4 h before: 14 s, 21.0 °C, pH 9.6``."""
    units = units_of(site)
    found = [
        f"flow {check.flow_s:g} s" if check.flow_s is not None else "",
        show(check.temperature_k, Dimension.TEMPERATURE, units) if check.temperature_k is not None else "",
        show(check.density_kg_m3, Dimension.DENSITY, units) if check.density_kg_m3 is not None else "",
        f"pH {check.ph:g}" if check.ph is not None else "",
        "made new" if check.made_new else "",
    ]
    said = ", ".join(part for part in found if part)
    return f"{span(check.age_s)} before{f': {said}' if said else ''}"


def _run(run: list[tuple[int, int]]) -> list[str]:
    first, last = run[0][1], run[-1][1]
    return [f"{first} to {last}"] if last - first > 1 else [str(coat) for _, coat in run]


def _bare(text: str) -> str:
    return text.removesuffix(" %")


def _the(item: StandsOut) -> str:
    return f"coat {item.coats[0]}"


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]


def _missing(item: StandsOut, site: Site | None) -> str:
    given, asked = int(item.value or 0), int(item.wanted or 0)
    are = "are" if len(item.coats) > 1 else "is"
    return f"{given} of {asked} coats are recorded: {coats_named(item.coats)} {are} not"


def _extra(item: StandsOut, site: Site | None) -> str:
    return f"{_capital(_the(item))} is one more than the recipe asks"


def _kind(item: StandsOut, site: Site | None) -> str:
    return f"{_capital(_the(item))} is recorded as a {item.given} coat; the recipe asks for {item.asked}"


def _tank(item: StandsOut, site: Site | None) -> str:
    asked = tank_words(item.asked)
    return f"{_capital(_the(item))} is recorded from {tank_words(item.given)}; the recipe asks for {asked}"


def _wires(item: StandsOut, site: Site | None) -> str:
    return f"No wire is recorded on {_the(item)}, where the recipe asks for it"


def _wet(item: StandsOut, site: Site | None) -> str:
    if len(item.coats) > 1:
        return _wet_ones(item)
    next_coat, sure = item.coats[0] + 1, item.too_wet or "perhaps"
    at = f" at “{item.place}”" if item.place else ""
    full = likely_percent(item.value or 0.0, item.likely)
    reason = f". The reason given then: {item.given.rstrip('.')}" if item.given else ""
    return (
        f"{_capital(_the(item))} was {sure} too wet{at} when coat {next_coat} went on: {full} full of water, "
        f"at most {percent(item.wanted or 0.0)} asked{reason}"
    )


def _wet_ones(item: StandsOut) -> str:
    """Several at once: `likely` is from the least to the most of them."""
    low, high = item.likely or (0.0, 1.0)
    sure = item.too_wet or "perhaps"
    return (
        f"{_capital(coats_named(item.coats))} were {sure} too wet as well when the next went on: {_bare(percent(low))} "
        f"to {percent(high)} full of water, at most {percent(item.wanted or 0.0)} asked"
    )


def _felt(item: StandsOut, site: Site | None) -> str:
    ago = span(item.lasted_s or 0.0)
    return f"A hand felt {_the(item)} still damp, and {ago} later coat {item.coats[0] + 1} went on"


def _short(item: StandsOut, site: Site | None) -> str:
    return (
        f"{_capital(_the(item))} waited {span(item.value or 0.0)}, at least {span(item.wanted or 0.0)} asked"
    )


def _long(item: StandsOut, site: Site | None) -> str:
    return (
        f"{_capital(_the(item))} waited {span(item.value or 0.0)}, at most {span(item.wanted or 0.0)} asked"
    )


def _air(item: StandsOut, site: Site | None) -> str:
    wrong = AirWrong(item.of)
    dimension, side = AIR_WRONG[wrong]
    worst, wanted = show_apart(item.value or 0.0, item.wanted or 0.0, dimension, units_of(site))
    on = coats_named(item.coats)
    if wrong is AirWrong.SWUNG:
        return f"The air swung {worst} under {item.given} coats, at most {wanted} asked ({on})"
    lasted = span(item.lasted_s or 0.0)
    return (
        f"The air was {wrong} for {item.given} coats: {worst} at worst, {side} {wanted} asked; "
        f"{lasted} in all ({on})"
    )


def _gap(item: StandsOut, site: Site | None) -> str:
    on = f" ({coats_named(item.coats)})" if item.coats else ""
    gap, life = span(item.value or 0.0), span(item.lasted_s or 0.0)
    return f"No air was measured for {gap} of its {life}{on}; there the last air known was assumed"


def _damp(item: StandsOut, site: Site | None) -> str:
    held = likely_water(item.value or 0.0, item.likely)
    limit = f"{100 * (item.wanted or 0.0):g} %"
    at = f" at “{item.place}”" if item.place else " in its slowest place"
    return f"It left with {held} water by weight{at}, at most {limit} asked"


def _final(item: StandsOut, site: Site | None) -> str:
    hung, asked = span(item.value or 0.0), span(item.wanted or 0.0)
    return f"It hung {hung} after its last coat, at least {asked} asked"


def _weight(item: StandsOut, site: Site | None) -> str:
    apart, told = span(item.lasted_s or 0.0), weight_change(item.value or 0.0, site)
    reckoned = weight_change(item.wanted or 0.0, site)
    return f"Between two weighings {apart} apart it {told} on the scale; worked out it {reckoned}"


def weight_change(kilograms: float, site: Site | None) -> str:
    """``lost 0.12 kg``."""
    return f"{'lost' if kilograms < 0 else 'gained'} {mass(abs(kilograms), site)}"


def _unlike(item: StandsOut, site: Site | None) -> str:
    factor = Factor(item.of)
    return f"{FACTOR_NAMES[factor]}: {factor_words(factor, item.value or 0.0, site)}"


SENTENCES: dict[Odd, Sentence] = {
    Odd.COATS_MISSING: _missing,
    Odd.COAT_EXTRA: _extra,
    Odd.OTHER_KIND: _kind,
    Odd.OTHER_TANK: _tank,
    Odd.NO_WIRES: _wires,
    Odd.TOO_WET: _wet,
    Odd.SHORT_WAIT: _short,
    Odd.LONG_WAIT: _long,
    Odd.AIR: _air,
    Odd.UNMEASURED: _gap,
    Odd.FELT_DAMP: _felt,
    Odd.LEFT_DAMP: _damp,
    Odd.SHORT_FINAL: _final,
    Odd.WEIGHT: _weight,
    Odd.UNLIKE_SOUND: _unlike,
}
FACTOR_NAMES = {
    Factor.EARLY_DIPS: "Coats that went on before the one under them was ready",
    Factor.WETTEST_COAT: "Its wettest coat when the next went on, against its limit",
    Factor.PRIME_SWING: "Largest swing of the air under its prime coats",
    Factor.PRIME_TOO_DRY: "Air too dry under its prime coats",
    Factor.COATS_SHORT: "Coats fewer than the recipe asks",
    Factor.THICKNESS: "Thickness of all its coats, as the recipe has them",
    Factor.WIRES_SHORT: "Wires asked for and not recorded",
    Factor.LATE_DIPS: "Coats that waited longer than the recipe allows",
    Factor.TANK_AGE: "Oldest check of a tank it was dipped in",
    Factor.UNMEASURED: "Part of its time without measured air",
    Factor.WATER_AT_END: "Water in its slowest place when it left",
    Factor.FINAL_WAIT: "Wait after its last coat",
}
COUNTED = {
    Factor.EARLY_DIPS: "coat",
    Factor.COATS_SHORT: "coat",
    Factor.WIRES_SHORT: "wire not recorded",
    Factor.LATE_DIPS: "coat",
}
SPANS = {Factor.PRIME_TOO_DRY, Factor.TANK_AGE, Factor.FINAL_WAIT}


def factor_words(factor: Factor, value: float, site: Site | None) -> str:
    """The number of a factor with its unit."""
    if factor in SPANS:
        return span(value)
    if factor is Factor.PRIME_SWING:
        return temperature_difference(value, site)
    if factor is Factor.THICKNESS:
        return show(value, Dimension.LENGTH, units_of(site))
    if factor is Factor.WETTEST_COAT:
        return f"{abs(100 * value):.0f} points {'above' if value > 0 else 'below'}"
    if factor is Factor.WATER_AT_END:
        return water_share(value)
    return percent(value) if factor is Factor.UNMEASURED else _counted(COUNTED[factor], value)


def _counted(what: str, value: float) -> str:
    return f"{value:g} {what if value == 1 else what.replace('coat', 'coats').replace('wire', 'wires')}"


def _among(among: AmongSound, factor: Factor, site: Site | None) -> str:
    middle = f"middle of the {among.count}: {factor_words(factor, among.middle, site)}"
    if among.spreads >= FAR:
        return f"Far from this foundry's sound shells ({middle})"
    if among.spreads >= 1.0:
        return f"Somewhat beyond this foundry's sound shells ({middle})"
    return f"Much as in this foundry's sound shells ({middle})"
