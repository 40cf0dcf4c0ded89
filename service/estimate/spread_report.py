"""How sure an estimate is: as plain data for programs, and in the words of the trade."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from datetime import timedelta
from typing import Any

from service.drying.air import FREEZING_K
from service.estimate.case import Case
from service.estimate.report import NEVER, in_hours, table, when_words
from service.estimate.spread import CoatSpread, Quantiles, Spread
from service.learning.smoother import Heard
from service.learning.story import Evidence, FaceRead, Felt, Weighed
from service.local_time import span
from service.units import Dimension, Units, show

HEADER = ("coat", "kind", "in 1 of 10", "in 5 of 10", "in 9 of 10", "ready at next dip")
MASS_DIGITS = {Units.METRIC: 3, Units.US: 2}


def as_data(found: Spread) -> dict[str, Any]:
    """As JSON has it: hours, kg, degC and shares 0..1, each named in its key. ``in_all`` counts from the first dip."""
    return {
        "ways": found.members,
        "coats": [_coat(found.case, coat) for coat in found.coats],
        "in_all": _hours("dry", found.dry_in_all),
        "evidence": [_heard(found.case, heard) for heard in found.heard],
    }


def as_blocks(found: Spread) -> list[str]:
    """For people: a line a coat, and what was heard beside what was to be expected."""
    title = f"How sure that is: how soon a coat is ready after its dip, in {found.members} ways in which it may dry"
    blocks = [f"{title}\n{table(_rows(found))}"]
    if found.heard:
        times_s = {heard.evidence.number: heard.evidence.at_s for heard in found.heard}
        lines = [_heard_line(found.case, heard, times_s) for heard in found.heard]
        blocks.append("\n".join(["What was heard, beside what all the rest leads to expect", *lines]))
    return blocks


def _coat(case: Case, coat: CoatSpread) -> dict[str, Any]:
    data = {"coat": coat.number, "kind": str(case.coats[coat.number - 1].kind), **_hours("ready", coat.ready)}
    if coat.by_next_dip is not None:
        data["ready_at_next_dip"] = round(coat.by_next_dip, 4)
    return data | (_hours("dry", coat.dry) if coat.dry else {})


def _hours(name: str, found: Quantiles) -> dict[str, Any]:
    each = zip((10, 50, 90), (found.low, found.middle, found.high), strict=True)
    return {f"{name}_{share}_h": NEVER if takes_s is None else in_hours(takes_s) for share, takes_s in each}


def _rows(found: Spread) -> Iterator[tuple[str, ...]]:
    yield HEADER
    for coat in found.coats:
        kind = str(found.case.coats[coat.number - 1].kind)
        by_next = "" if coat.by_next_dip is None else show(coat.by_next_dip, Dimension.FRACTION)
        yield (str(coat.number), kind, *_spans(coat.ready), by_next)
        if coat.dry:
            yield ("dry", "after the last dip", *_spans(coat.dry), "")
    yield ("dry", "after the first", *_spans(found.dry_in_all), "")


def _spans(found: Quantiles) -> Iterator[str]:
    for takes_s in (found.low, found.middle, found.high):
        yield NEVER if takes_s is None else span(takes_s)


def _heard(case: Case, heard: Heard) -> dict[str, Any]:
    piece = heard.evidence
    data: dict[str, Any] = {"number": piece.number, "at_h": in_hours(piece.at_s)}
    if case.began:
        data["at"] = (case.began + timedelta(seconds=piece.at_s)).isoformat(timespec="seconds")
    return data | _said(heard) | {"left_out": heard.left_out}


def _said(heard: Heard) -> dict[str, Any]:
    piece = heard.evidence
    if isinstance(piece, Weighed):
        known = {"against": heard.against, "change_kg": heard.measured, "expected_kg": heard.expected}
        return {"weight_kg": piece.mass_kg} | _rounded(known | {"give_or_take_kg": heard.spread}, 4)
    if isinstance(piece, FaceRead):
        expected = {"expected_degC": heard.expected - FREEZING_K, "give_or_take_K": heard.spread}
        return _rounded({"face_degC": piece.temperature_k - FREEZING_K} | expected, 2)
    if isinstance(piece, Felt):
        return {"felt": _felt(piece)} | _rounded({"expected_share": heard.expected}, 3)
    fate = "shed" if piece.shed else "held"
    return {fate: piece.coat} | _rounded({"expected_share": heard.expected}, 3)


def _rounded(numbers: Mapping[str, float | int | None], digits: int) -> dict[str, Any]:
    """What could not be held against anything is null."""
    return {
        key: None if value is None or math.isnan(value) else round(value, digits)
        for key, value in numbers.items()
    }


def _heard_line(case: Case, heard: Heard, times_s: Mapping[int, float]) -> str:
    """times_s: of all evidence, by its number."""
    piece = heard.evidence
    expected = _change(case, heard, times_s) if isinstance(piece, Weighed) else _expected(case, heard)
    told = f"No. {piece.number}, {when_words(case, piece.at_s)}: {_what(case, piece)}; {expected}."
    return f"{told} Left out: too far from all the rest." if heard.left_out else told


def _what(case: Case, piece: Evidence) -> str:
    if isinstance(piece, Weighed):
        return f"weight {_mass(case, piece.mass_kg)}"
    if isinstance(piece, FaceRead):
        face = show(piece.temperature_k, Dimension.TEMPERATURE, case.units)
        return f"face of {case.zones[piece.zone][0]} {face}"
    if isinstance(piece, Felt):
        where = "" if piece.zone is None else f" at {case.zones[piece.zone][0]}"
        return f"felt {_felt(piece)}{where}"
    return f"coat {piece.coat} {'shed' if piece.shed else 'held'} at the next dip"


def _felt(piece: Felt) -> str:
    return "dry" if piece.dry else "still damp"


def _expected(case: Case, heard: Heard) -> str:
    if isinstance(heard.evidence, FaceRead):
        expected = show(heard.expected, Dimension.TEMPERATURE, case.units)
        return f"expected {expected}, give or take {show(heard.spread, Dimension.TEMPERATURE_DIFFERENCE, case.units)}"
    return f"expected in {show(heard.expected, Dimension.FRACTION)} of such cases"


def _change(case: Case, heard: Heard, times_s: Mapping[int, float]) -> str:
    """What was lost since the weighing it is held against, or until then."""
    if heard.against is None:
        return "there is no other to hold it against"
    until = times_s[heard.against] > heard.evidence.at_s
    told, expected = (_lost(case, -kg if until else kg) for kg in (heard.measured, heard.expected))
    other = f"{'until' if until else 'since'} no. {heard.against}"
    return f"{told} {other}, expected {expected}, give or take {_mass(case, heard.spread)}"


def _lost(case: Case, change_kg: float) -> str:
    return f"{_mass(case, abs(change_kg))} {'gained' if change_kg > 0 else 'lost'}"


def _mass(case: Case, mass_kg: float) -> str:
    return show(mass_kg, Dimension.MASS, case.units, MASS_DIGITS[case.units])
