"""What was heard of a mould, what was expected and what that was worth: recorded and worked out kept apart."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from service.local_time import clock_time
from service.records.shop_facts import Site
from service.room.learned_views import HeardKind, HeardNow
from service.units import Units
from service.voice import later, say
from service.words.numbers import mass, temperature, temperature_difference, temperature_range, units_of

TENTH = 1.2816
"""So many standard deviations to either side lie 80 % of what is normally distributed: its 10 and 90 %."""
AS_EXPECTED, A_LITTLE_OFF = 1.3, 2.0
"""So many spreads off: within the first lie four of five, within the second nineteen of twenty."""
LIKELY, UNLIKELY = 0.65, 0.35
"""Between these two chances a hand could as well have said the other (our choice)."""
OUNCES = 35.27396
WRONG = {
    HeardKind.WEIGHT: later("Was another mould on the scale, or something hung on it?"),
    HeardKind.FACE: later("Was the gun held on something else?"),
    HeardKind.FELT: later("Was another place felt, or another mould?"),
    HeardKind.REDIP: later("Was it another coat, or another mould?"),
}


@dataclass(frozen=True, slots=True)
class HeardWords:
    """said: as recorded. expected: as worked out; empty: nothing to say. worth: what came of it."""

    said: str
    expected: str
    worth: str
    left_out: bool


def heard_words(heard: HeardNow, site: Site | None, now: datetime) -> HeardWords:
    """``Weighed 14:10: lost 38 g since 12:30`` · ``Expected: lost 31 g to 45 g`` · ``As expected``."""
    said = SAID[heard.kind](heard, site, now)
    if heard.number is None:
        said = say("{said}, by the sensor on it", said=said)
    if _to_compare_with(heard):
        return HeardWords(said, "", say("What it weighs later is held against that."), False)
    return HeardWords(said, _expected(heard, site), _worth(heard, site), heard.left_out)


def _to_compare_with(heard: HeardNow) -> bool:
    """The first weighing since a dip: what it says is told with the one after it."""
    return not heard.left_out and heard.against_at is not None and heard.against_at > heard.at


def _weighed(heard: HeardNow, site: Site | None, now: datetime) -> str:
    at, against = clock_time(heard.at, site, now), heard.against_at
    if against is None:
        change = _change(heard.said, site)
        return say("Weighed {time}: {change} since the weighing before", time=at, change=change)
    other = clock_time(against, site, now)
    if against < heard.at:
        return say(
            "Weighed {time}: {change} since {since}", time=at, change=_change(heard.said, site), since=other
        )
    if not heard.left_out:
        return say("Weighed {time}, for the first time since that dip", time=at)
    much = _small(abs(heard.said), site)
    if heard.said < 0.0:
        return say("Weighed {time}: {much} less than at {other}", time=at, much=much, other=other)
    return say("Weighed {time}: {much} more than at {other}", time=at, much=much, other=other)


def _face(heard: HeardNow, site: Site | None, now: datetime) -> str:
    told = {"time": clock_time(heard.at, site, now), "temperature": temperature(heard.said, site)}
    if heard.zone:
        return say("Face read {time} at {place}: {temperature}", place=heard.zone, **told)
    return say("Face read {time}: {temperature}", **told)


def _felt(heard: HeardNow, site: Site | None, now: datetime) -> str:
    told = {
        "time": clock_time(heard.at, site, now),
        "verdict": say("dry") if heard.said else say("still damp"),
    }
    if heard.zone:
        return say("Felt {verdict} {time} at {place}", place=heard.zone, **told)
    return say("Felt {verdict} {time}", **told)


def _redipped(heard: HeardNow, site: Site | None, now: datetime) -> str:
    told = {"time": clock_time(heard.at, site, now), "coat": heard.coat or ""}
    if heard.said:
        return say("Coat {coat} held when the next went on, {time}", **told)
    return say("Coat {coat} shed when the next went on, {time}", **told)


SAID: dict[HeardKind, Callable[[HeardNow, Site | None, datetime], str]] = {
    HeardKind.WEIGHT: _weighed,
    HeardKind.FACE: _face,
    HeardKind.FELT: _felt,
    HeardKind.REDIP: _redipped,
}


def _expected(heard: HeardNow, site: Site | None) -> str:
    """Four of five would lie between these two."""
    low, high = heard.expected - TENTH * heard.spread, heard.expected + TENTH * heard.spread
    if heard.kind is HeardKind.FACE:
        return say("Expected: {range}", range=temperature_range((low, high), site))
    if heard.kind is HeardKind.WEIGHT:
        return "" if heard.against_at and heard.against_at > heard.at else _expected_change(low, high, site)
    return say("Chance of that: {chance}", chance=f"{100 * heard.expected:.0f} %")


def _expected_change(low: float, high: float, site: Site | None) -> str:
    """What would be lost, the smaller number first; where it is open whether anything is, both ends with their word."""
    if high <= 0.0:
        return say("Expected: lost {low} to {high}", low=_small(abs(high), site), high=_small(abs(low), site))
    if low >= 0.0:
        return say("Expected: gained {low} to {high}", low=_small(low, site), high=_small(high, site))
    return say("Expected: {low} to {high}", low=_change(low, site), high=_change(high, site))


def _worth(heard: HeardNow, site: Site | None) -> str:
    if heard.left_out:
        return f"{_left_out(heard, site)} {say(WRONG[heard.kind])}"
    if heard.kind in (HeardKind.WEIGHT, HeardKind.FACE):
        off = abs(heard.surprise)
        if off <= AS_EXPECTED:
            return say("As expected.")
        return (
            say("A little off.") if off <= A_LITTLE_OFF else say("Not as expected: the estimate followed it.")
        )
    if heard.expected >= LIKELY:
        return say("As expected.")
    if heard.expected > UNLIKELY:
        return say("Could have been either.")
    return say("Not as expected: the estimate followed it.")


def _left_out(heard: HeardNow, site: Site | None) -> str:
    off = abs(heard.said - heard.expected)
    if heard.kind is HeardKind.WEIGHT:
        return say("Left out: {much} off what anything known would give.", much=_small(off, site))
    if heard.kind is HeardKind.FACE:
        much = temperature_difference(off, site)
        return say("Left out: {much} off what anything known would give.", much=much)
    return say("Left out: nothing known would give that.")


def _change(kilograms: float, site: Site | None) -> str:
    much = _small(abs(kilograms), site)
    return say("lost {much}", much=much) if kilograms < 0 else say("gained {much}", much=much)


def _small(kilograms: float, site: Site | None) -> str:
    """``38 g`` or ``1.3 oz``, which a coat's water is; a kilogram and more as weights are."""
    if abs(kilograms) >= 1.0:
        return mass(kilograms, site)
    if units_of(site) is Units.US:
        return f"{kilograms * OUNCES:.1f} oz"
    return f"{1000 * kilograms:.0f} g"
