"""Facts check themselves before they are stored, and `live` tells which hold."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from service.records.facts import (
    AnyBody,
    DipBody,
    Fact,
    FaultKind,
    MouldBody,
    NoteBody,
    ResultBody,
    WithdrawnBody,
    Zone,
    live,
)
from service.records.plain import RECORDED
from tests.service.records.making import dip, minutes, mould

BODY: TypeAdapter[AnyBody] = TypeAdapter(AnyBody)


def fact(number: int, at: float = 0, replaces: int | None = None, body: AnyBody | None = None) -> Fact:
    return Fact(number, 1, minutes(at), minutes(at), "bench 1", body or dip(), replaces, None, "")


def numbers(*facts: Fact) -> list[int]:
    return [found.number for found in live(list(facts))]


def test_nothing_holds_of_nothing() -> None:
    assert live([]) == []


def test_facts_come_by_the_time_they_happened() -> None:
    assert numbers(fact(1, at=5), fact(2, at=3), fact(3, at=4)) == [2, 3, 1]


def test_facts_of_the_same_instant_come_by_number() -> None:
    assert numbers(fact(3), fact(1), fact(2)) == [1, 2, 3]


def test_a_replaced_fact_is_gone() -> None:
    assert numbers(fact(1), fact(2, replaces=1)) == [2]
    assert numbers(fact(1), fact(2, replaces=1), fact(3, replaces=2)) == [3]


def test_a_withdrawal_takes_both_away() -> None:
    assert numbers(fact(1), fact(2), fact(3, replaces=1, body=WithdrawnBody())) == [2]


@given(st.lists(st.integers(0, 5), max_size=8))
def test_exactly_those_nobody_replaced_hold(picks: list[int]) -> None:
    facts = [fact(n, replaces=pick if 0 < pick < n else None) for n, pick in enumerate(picks, start=1)]
    replaced = {f.replaces for f in facts}
    assert {f.number for f in live(facts)} == {f.number for f in facts} - replaced


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "dip", "coat": 0, "coat_kind": "prime", "tank": "white"},
        {"kind": "dip", "coat": 41, "coat_kind": "prime", "tank": "white"},
        {"kind": "dip", "coat": 1, "coat_kind": "primer", "tank": "white"},
        {"kind": "dip", "coat": 1, "coat_kind": "prime", "tank": ""},
        {"kind": "dip", "coat": 1, "coat_kind": "prime", "tank": " "},
        {"kind": "dip", "coat": 1, "coat_kind": "prime", "tank": "white\n"},
        {"kind": "dip", "coat": 1, "coat_kind": "prime", "tank": "white", "colour": "red"},
        {"kind": "check", "verdict": "nearly"},
        {"kind": "note", "text": ""},
        {"kind": "note", "text": "half a letter \ud800"},
        {"kind": "weight", "mass_kg": 0},
        {"kind": "weight", "mass_kg": float("nan")},
        {"kind": "face"},
        {"kind": "face", "temperature_k": 233.1},
        {"kind": "face", "temperature_k": 373.2},
        {"kind": "face", "temperature_k": float("nan")},
        {"kind": "sensor on"},
        {"kind": "sensor on", "sensor": " "},
        {"kind": "learn anew", "text": "a" * 501},
        {"kind": "ended", "outcome": "sold"},
        {"kind": "poured"},
        {},
    ],
    ids=str,
)
def test_a_fact_that_cannot_be_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        BODY.validate_python(wrong)


@pytest.mark.parametrize(
    "change", [{"zones": ()}, {"name": ""}, {"wax_mass_kg": -1}, {"height_m": 5.1}], ids=str
)
def test_a_mould_that_cannot_be_is_refused(change: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        mould(**change)


def test_a_zone_needs_a_size() -> None:
    with pytest.raises(ValidationError):
        Zone.model_validate({"name": "breast", "kind": "open face", "height_m": 0.4})


def test_what_a_fact_says_cannot_be_changed() -> None:
    with pytest.raises(ValidationError):
        dip().coat = 2  # type: ignore[misc]


def test_a_fact_read_from_json_is_its_own_kind() -> None:
    assert isinstance(BODY.validate_json('{"kind":"note","text":"drip"}'), NoteBody)
    found = BODY.validate_json('{"kind":"dip","coat":1,"coat_kind":"prime","tank":"white"}')
    assert isinstance(found, DipBody)
    assert found.early_reason is None


def test_places_of_one_name_are_refused_when_told_and_read_where_they_are_recorded() -> None:
    body = mould().model_dump(mode="json")
    twice = {**body, "zones": [body["zones"][0]] * 2}
    with pytest.raises(ValidationError, match="Two places are called"):
        BODY.validate_python(twice)
    read = BODY.validate_python(twice, context=RECORDED)
    assert isinstance(read, MouldBody)
    assert len(read.zones) == 2


@pytest.mark.parametrize("count", [0, 13])
def test_the_number_of_places_is_held_first(count: int) -> None:
    body = mould().model_dump(mode="json")
    with pytest.raises(ValidationError) as told:
        BODY.validate_python({**body, "zones": [body["zones"][0]] * count})
    assert told.value.errors()[0]["type"] == ("too_short" if count == 0 else "too_long")


@pytest.mark.parametrize(
    "body",
    [
        {"verdict": "failed"},
        {"verdict": "sound", "failings": [{"fault": "fin"}]},
        {"verdict": "failed", "failings": [{"fault": "leak"}]},
        {"verdict": "failed", "failings": [{"fault": "fin", "coat": 0}]},
        {"verdict": "so-so"},
    ],
    ids=str,
)
def test_a_result_that_contradicts_itself_is_refused(body: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        BODY.validate_python({"kind": "result", **body})


@pytest.mark.parametrize("fault", list(FaultKind))
def test_every_failing_can_be_told(fault: FaultKind) -> None:
    failings = [{"fault": fault.value, "zone": "base", "coat": 3}]
    body = BODY.validate_python({"kind": "result", "verdict": "failed", "failings": failings})
    assert isinstance(body, ResultBody)
    assert body.failings[0].fault is fault
    assert BODY.validate_json(body.model_dump_json()) == body


@pytest.mark.parametrize("value", ["flow_s", "temperature_k", "density_kg_m3", "ph", "water_added_kg"])
def test_one_value_makes_a_tank_check(value: str) -> None:
    numbers = {
        "flow_s": 11.0,
        "temperature_k": 295.0,
        "density_kg_m3": 1650.0,
        "ph": 0.0,
        "water_added_kg": 0.5,
    }
    body = BODY.validate_python({"kind": "tank check", "tank": "grey", value: numbers[value]})
    assert getattr(body, value) == numbers[value]


@pytest.mark.parametrize("empty", [{}, {"text": ""}, {"made_new": False}])
def test_a_tank_check_that_says_nothing_is_refused(empty: dict[str, Any]) -> None:
    with pytest.raises(ValidationError, match="Nothing is said of the tank"):
        BODY.validate_python({"kind": "tank check", "tank": "grey", **empty})


@pytest.mark.parametrize("said", [{"text": "thick"}, {"made_new": True}])
def test_a_tank_check_may_be_without_numbers(said: dict[str, Any]) -> None:
    BODY.validate_python({"kind": "tank check", "tank": "grey", **said})


@pytest.mark.parametrize("sha256", ["", "a" * 63, "A" * 64, "../" + "a" * 61])
def test_a_photo_is_named_by_its_digest_alone(sha256: str) -> None:
    photo = {"kind": "photo", "sha256": sha256, "width_px": 4, "height_px": 3, "size_bytes": 99}
    with pytest.raises(ValidationError):
        BODY.validate_python(photo)
    BODY.validate_python({**photo, "sha256": "a" * 64})
