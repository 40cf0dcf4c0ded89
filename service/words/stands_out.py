"""What stands out in the making of a shell, in sentences: what differs and by how much, never what caused it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import groupby

from service.listed import capital, listed
from service.local_time import span
from service.records.shop_facts import Site
from service.room.among_sound import ENOUGH, FAR
from service.room.audit_views import AmongSound, Known, Odd, StandsOut, TankChecked, TooWet
from service.room.stands_out import factor_of
from service.room.views import AirWrong, Factor
from service.terms import term
from service.units import Dimension, show, show_apart
from service.voice import later, say, say_many
from service.words.audit import AIR_WRONG, AT_MOST
from service.words.moulds import tank_words
from service.words.numbers import mass, percent, temperature_difference, units_of, water_share

Sentence = Callable[[StandsOut, Site | None], str]


def stands_out_line(item: StandsOut, site: Site | None) -> str:
    """One sentence with its numbers, and a second where sound shells can be compared with."""
    line = SENTENCES[item.odd](item, site)
    factor = Factor(item.of) if item.odd is Odd.UNLIKE_SOUND else factor_of(item)
    compared = _among(item.among, factor, site) if item.among and factor else ""
    return f"{line}. {compared}." if compared else f"{line}."


def known_words(known: Known) -> str:
    """How it is known: ``recorded``, ``measured``, ``worked out``."""
    return term(known)


def compared_line(sound_shells: int) -> str:
    """What the ranking rests on."""
    if sound_shells >= ENOUGH:
        return say(
            "Ranked by how far each lies outside the recipe and outside this foundry's {sound_shells} sound "
            "shells.",
            sound_shells=sound_shells,
        )
    if not sound_shells:
        return say(
            "Ranked by how far each lies outside the recipe alone: to compare with this foundry's sound "
            "shells {enough} of them are needed, and none is worked out so far.",
            enough=ENOUGH,
        )
    return say_many(
        "Ranked by how far each lies outside the recipe alone: to compare with this foundry's sound shells "
        "{enough} of them are needed, and one is worked out so far.",
        "Ranked by how far each lies outside the recipe alone: to compare with this foundry's sound shells "
        "{enough} of them are needed, and {number} are worked out so far.",
        sound_shells,
        enough=ENOUGH,
    )


def likely_percent(share: float, likely: tuple[float, float] | None) -> str:
    """``31 % (likely 22 to 41 %)``; alone where no range is known."""
    if likely is None:
        return percent(share)
    low, high = _bare(percent(likely[0])), percent(likely[1])
    return say("{share} (likely {low} to {high})", share=percent(share), low=low, high=high)


def likely_water(share: float, likely: tuple[float, float] | None) -> str:
    """``2.4 % (likely 1.9 to 3.1 %)``."""
    if likely is None:
        return water_share(share)
    low, high = _bare(water_share(likely[0])), water_share(likely[1])
    return say("{share} (likely {low} to {high})", share=water_share(share), low=low, high=high)


def coats_named(coats: Sequence[int]) -> str:
    """``coat 3``, ``coats 3 to 9``, ``coats 1, 2 and 5 to 9``."""
    runs = [_run(list(run)) for _, run in groupby(enumerate(coats), key=lambda pair: pair[1] - pair[0])]
    parts = [part for run in runs for part in run]
    return say_many("coat {coats}", "coats {coats}", len(coats), coats=listed(parts))


def tank_before_line(check: TankChecked, site: Site | None) -> str:
    """What a tank was found to be: ``2 days 4 h before: 14 s, 21.0 °C, pH 9.6``."""
    units = units_of(site)
    found = [
        say("flow {seconds:g} s", seconds=check.flow_s) if check.flow_s is not None else "",
        show(check.temperature_k, Dimension.TEMPERATURE, units) if check.temperature_k is not None else "",
        show(check.density_kg_m3, Dimension.DENSITY, units) if check.density_kg_m3 is not None else "",
        say("pH {ph:g}", ph=check.ph) if check.ph is not None else "",
        say("made new") if check.made_new else "",
    ]
    said = ", ".join(part for part in found if part)
    before = say("{how_long} before", how_long=span(check.age_s))
    return f"{before}: {said}" if said else before


def _run(run: list[tuple[int, int]]) -> list[str]:
    first, last = run[0][1], run[-1][1]
    return (
        [say("{first} to {last}", first=first, last=last)]
        if last - first > 1
        else [str(coat) for _, coat in run]
    )


def _bare(text: str) -> str:
    return text.removesuffix(" %")


def _the(item: StandsOut) -> str:
    return coats_named(item.coats[:1])


def _missing(item: StandsOut, site: Site | None) -> str:
    given, asked = int(item.value or 0), int(item.wanted or 0)
    return say_many(
        "{given} of {asked} coats are recorded: {coats} is not",
        "{given} of {asked} coats are recorded: {coats} are not",
        len(item.coats),
        given=given,
        asked=asked,
        coats=coats_named(item.coats),
    )


def _extra(item: StandsOut, site: Site | None) -> str:
    return capital(say("{coat} is one more than the recipe asks", coat=_the(item)))


def _kind(item: StandsOut, site: Site | None) -> str:
    given, asked = term(item.given), term(item.asked)
    line = say(
        "{coat} is recorded as a {given} coat; the recipe asks for {asked}",
        coat=_the(item),
        given=given,
        asked=asked,
    )
    return capital(line)


def _tank(item: StandsOut, site: Site | None) -> str:
    given, asked = tank_words(item.given), tank_words(item.asked)
    line = say(
        "{coat} is recorded from {given}; the recipe asks for {asked}",
        coat=_the(item),
        given=given,
        asked=asked,
    )
    return capital(line)


def _wires(item: StandsOut, site: Site | None) -> str:
    return say("No wire is recorded on {coat}, where the recipe asks for it", coat=_the(item))


def _wet(item: StandsOut, site: Site | None) -> str:
    if len(item.coats) > 1:
        return _wet_ones(item)
    told = {
        "coat": _the(item),
        "sure": term(item.too_wet or TooWet.PERHAPS),
        "place": item.place,
        "next_coat": item.coats[0] + 1,
        "full": likely_percent(item.value or 0.0, item.likely),
        "most": percent(item.wanted or 0.0),
    }
    if item.place:
        line = say(
            "{coat} was {sure} too wet at “{place}” when coat {next_coat} went on: {full} full of water, "
            "at most {most} asked",
            **told,
        )
    else:
        line = say(
            "{coat} was {sure} too wet when coat {next_coat} went on: {full} full of water, at most {most} asked",
            **told,
        )
    return capital(_with_reason(line, item.given.rstrip(".")))


def _with_reason(line: str, reason: str) -> str:
    return say("{line}. The reason given then: {reason}", line=line, reason=reason) if reason else line


def _wet_ones(item: StandsOut) -> str:
    """Several at once: `likely` is from the least to the most of them."""
    low, high = item.likely or (0.0, 1.0)
    line = say(
        "{coats} were {sure} too wet as well when the next went on: {low} to {high} full of water, "
        "at most {most} asked",
        coats=coats_named(item.coats),
        sure=term(item.too_wet or TooWet.PERHAPS),
        low=_bare(percent(low)),
        high=percent(high),
        most=percent(item.wanted or 0.0),
    )
    return capital(line)


def _felt(item: StandsOut, site: Site | None) -> str:
    how_long, next_coat = span(item.lasted_s or 0.0), item.coats[0] + 1
    return say(
        "A hand felt {coat} still damp, and {how_long} later coat {next_coat} went on",
        coat=_the(item),
        how_long=how_long,
        next_coat=next_coat,
    )


def _short(item: StandsOut, site: Site | None) -> str:
    waited, least = span(item.value or 0.0), span(item.wanted or 0.0)
    return capital(
        say("{coat} waited {waited}, at least {least} asked", coat=_the(item), waited=waited, least=least)
    )


def _long(item: StandsOut, site: Site | None) -> str:
    waited, most = span(item.value or 0.0), span(item.wanted or 0.0)
    return capital(
        say("{coat} waited {waited}, at most {most} asked", coat=_the(item), waited=waited, most=most)
    )


def _air(item: StandsOut, site: Site | None) -> str:
    wrong = AirWrong(item.of)
    dimension = AIR_WRONG[wrong]
    worst, wanted = show_apart(item.value or 0.0, item.wanted or 0.0, dimension, units_of(site))
    on, kind = coats_named(item.coats), term(item.given)
    if wrong is AirWrong.SWUNG:
        return say(
            "The air swung {worst} under {kind} coats, at most {wanted} asked ({on})",
            worst=worst,
            kind=kind,
            wanted=wanted,
            on=on,
        )
    lasted, wrongly = span(item.lasted_s or 0.0), term(wrong)
    if wrong in AT_MOST:
        return say(
            "The air was {wrongly} for {kind} coats: {worst} at worst, at most {wanted} asked; {lasted} in "
            "all ({on})",
            wrongly=wrongly,
            kind=kind,
            worst=worst,
            wanted=wanted,
            lasted=lasted,
            on=on,
        )
    return say(
        "The air was {wrongly} for {kind} coats: {worst} at worst, at least {wanted} asked; {lasted} in "
        "all ({on})",
        wrongly=wrongly,
        kind=kind,
        worst=worst,
        wanted=wanted,
        lasted=lasted,
        on=on,
    )


def _gap(item: StandsOut, site: Site | None) -> str:
    gap, life, coats = span(item.value or 0.0), span(item.lasted_s or 0.0), coats_named(item.coats or [0])
    if item.coats:
        return say(
            "No air was measured for {gap} of its {life} ({coats}); there the last air known was assumed",
            gap=gap,
            life=life,
            coats=coats,
        )
    return say(
        "No air was measured for {gap} of its {life}; there the last air known was assumed",
        gap=gap,
        life=life,
    )


def _damp(item: StandsOut, site: Site | None) -> str:
    held = likely_water(item.value or 0.0, item.likely)
    limit = f"{100 * (item.wanted or 0.0):g} %"
    if item.place:
        return say(
            "It left with {held} water by weight at “{place}”, at most {limit} asked",
            held=held,
            place=item.place,
            limit=limit,
        )
    return say(
        "It left with {held} water by weight in its slowest place, at most {limit} asked",
        held=held,
        limit=limit,
    )


def _final(item: StandsOut, site: Site | None) -> str:
    hung, asked = span(item.value or 0.0), span(item.wanted or 0.0)
    return say("It hung {hung} after its last coat, at least {asked} asked", hung=hung, asked=asked)


def _weight(item: StandsOut, site: Site | None) -> str:
    apart, told = span(item.lasted_s or 0.0), weight_change(item.value or 0.0, site)
    reckoned = weight_change(item.wanted or 0.0, site)
    return say(
        "Between two weighings {apart} apart it {told} on the scale; worked out it {reckoned}",
        apart=apart,
        told=told,
        reckoned=reckoned,
    )


def weight_change(kilograms: float, site: Site | None) -> str:
    """``lost 0.12 kg``."""
    much = mass(abs(kilograms), site)
    return say("lost {much}", much=much) if kilograms < 0 else say("gained {much}", much=much)


def _unlike(item: StandsOut, site: Site | None) -> str:
    factor = Factor(item.of)
    return f"{say(FACTOR_NAMES[factor])}: {factor_words(factor, item.value or 0.0, site)}"


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
    Factor.EARLY_DIPS: later("Coats that went on before the one under them was ready"),
    Factor.WETTEST_COAT: later("Its wettest coat when the next went on, against its limit"),
    Factor.PRIME_SWING: later("Largest swing of the air under its prime coats"),
    Factor.PRIME_TOO_DRY: later("Air too dry under its prime coats"),
    Factor.COATS_SHORT: later("Coats fewer than the recipe asks"),
    Factor.THICKNESS: later("Thickness of all its coats, as the recipe has them"),
    Factor.WIRES_SHORT: later("Wires asked for and not recorded"),
    Factor.LATE_DIPS: later("Coats that waited longer than the recipe allows"),
    Factor.TANK_AGE: later("Oldest check of a tank it was dipped in"),
    Factor.UNMEASURED: later("Part of its time without measured air"),
    Factor.WATER_AT_END: later("Water in its slowest place when it left"),
    Factor.FINAL_WAIT: later("Wait after its last coat"),
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
        points = f"{abs(100 * value):.0f}"
        return (
            say("{points} points above", points=points)
            if value > 0
            else say("{points} points below", points=points)
        )
    if factor is Factor.WATER_AT_END:
        return water_share(value)
    return percent(value) if factor is Factor.UNMEASURED else _counted(factor, value)


def _counted(factor: Factor, value: float) -> str:
    number = 1 if value == 1 else 2  # a middle of counts may be 1.5
    if factor is Factor.WIRES_SHORT:
        return say_many("{count:g} wire not recorded", "{count:g} wires not recorded", number, count=value)
    return say_many("{count:g} coat", "{count:g} coats", number, count=value)


def _among(among: AmongSound, factor: Factor, site: Site | None) -> str:
    middle = say(
        "middle of the {number}: {value}", number=among.count, value=factor_words(factor, among.middle, site)
    )
    if among.spreads >= FAR:
        return say("Far from this foundry's sound shells ({middle})", middle=middle)
    if among.spreads >= 1.0:
        return say("Somewhat beyond this foundry's sound shells ({middle})", middle=middle)
    return say("Much as in this foundry's sound shells ({middle})", middle=middle)
