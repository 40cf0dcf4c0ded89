"""How each person is spoken to, as it is kept."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from service.records.set_up import Part, SetUp, newest, voice_body, voices
from service.units import Units
from service.voice import Language, Voice

AT = datetime(2026, 3, 1, tzinfo=UTC)


def said(name: str, body: dict[str, object] | None, number: int = 1) -> SetUp:
    return SetUp(number, Part.VOICES, name, body, AT, "")


@pytest.mark.parametrize("language", Language)
@pytest.mark.parametrize("units", [None, *Units])
def test_a_voice_comes_back_as_it_was_kept(language: Language, units: Units | None) -> None:
    chosen = Voice(language, units)
    assert voices([said("bench 1", voice_body(chosen))]) == {"bench 1": chosen}


def test_names_are_the_same_however_they_are_spelled() -> None:
    (name,) = voices([said("Bench 1", voice_body(Voice()))])
    assert name == "bench 1"


def test_a_voice_taken_away_is_none() -> None:
    assert voices([said("bench 1", None)]) == {}


def test_the_last_of_each_name_is_the_newest() -> None:
    first, other, last = said("b", {}, 1), said("a", {}, 2), said("b", {"x": 1}, 3)
    assert newest([first, other, last]) == [other, last]


@pytest.mark.parametrize(
    "body",
    [
        {"language": "xx", "units": None},
        {"language": "en", "units": "cubits"},
        {"units": None},
        {"language": ["es"], "units": None},
    ],
)
def test_a_voice_that_another_coatbell_kept_silences_nobody(body: dict[str, object]) -> None:
    other = said("bench 2", {"language": "es", "more": 1})
    assert voices([said("bench 1", body), other]) == {"bench 2": Voice(Language.SPANISH)}
