"""Weights measured against worked out, as rows and as one line that says what was compared with what."""

from __future__ import annotations

from collections.abc import Iterator

from service import words
from service.records.shop_facts import Site
from service.room.audit_views import WeighedPair, Weighings
from service.room.views import Audit
from service.units import Units
from service.voice import say, say_many

Row = tuple[str, str, str, str]


def weight_rows(audit: Audit, site: Site | None) -> list[Row]:
    """From when to when, what the scale says, what was worked out, what lay between."""
    return [_row(pair, site) for pair in audit.weighings.pairs] if audit.weighings else []


def weight_line(weighings: Weighings, site: Site | None) -> str:
    """What was compared. The area is known only as far as the sizes say, so the one that fits best is used."""
    told = _area(weighings.told_area_m2, site)
    if weighings.area_m2 is None:
        return say(
            "Nothing to compare: a pair of weighings is needed between which water left, and neither a dip nor wire "
            "came between. The area of the shell is not known (by its sizes it has {told}).",
            told=told,
        )
    fits = _area(weighings.area_m2, site)
    if weighings.fitted == 1:
        return say(
            "One pair of weighings without a dip between: it gives the area ({fits} of shell fits best, by its sizes "
            "it has {told}) and proves nothing more.",
            fits=fits,
            told=told,
        )
    return say_many(
        "The area of the shell is not known, so one was sought that fits {number} pair of weighings without a dip "
        "between: {fits} of shell fits best, by its sizes it has {told}.",
        "The area of the shell is not known, so one was sought that fits all {number} pairs of weighings without a dip "
        "between: {fits} of shell fits best, by its sizes it has {told}.",
        weighings.fitted,
        fits=fits,
        told=told,
    )


def _row(pair: WeighedPair, site: Site | None) -> Row:
    since, until = (words.dated(at, site) for at in (pair.since, pair.until))
    computed = pair.computed_kg
    worked = words.weight_change(computed, site) if computed is not None else say("not worked out")
    between = ", ".join(_between(pair))
    span = say("{since} to {until}", since=since, until=until)
    return span, words.weight_change(pair.measured_kg, site), worked, between


def _between(pair: WeighedPair) -> Iterator[str]:
    if pair.coats:
        yield say("{coats} dipped", coats=words.coats_named(pair.coats))
    if pair.wires:
        yield say("wire set, its weight is not known")


def _area(square_metres: float, site: Site | None) -> str:
    if words.units_of(site) is Units.US:
        return f"{square_metres * 10.7639:.1f} ft²"
    return f"{square_metres:.2f} m²"
