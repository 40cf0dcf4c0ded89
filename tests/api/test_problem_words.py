"""Pydantic's complaints, in words."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

import pytest
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError

from api.mould_models import ZONE_IN, MouldChangeIn
from api.problem_words import field_of, told
from service.units import LengthM


class Sample(BaseModel):
    model_config = ConfigDict(extra="forbid")
    count: Annotated[int, Field(ge=1, le=9)] = 1
    share: Annotated[float, Field(gt=0, lt=1)] = 0.5
    name: Annotated[str, Field(min_length=2, max_length=4)] = "abc"
    word: Literal["wet", "dry"] = "dry"
    at: AwareDatetime | None = None
    length: LengthM = 1.0
    many: Annotated[list[int], Field(min_length=1, max_length=2)] = [1]
    yes: bool = True


def complaint(**values: Any) -> Any:
    with pytest.raises(ValidationError) as error:
        Sample.model_validate(values)
    return error.value.errors()[0]


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"count": "many"}, "“many” in “count” is not a whole number."),
        ({"count": 1.5}, "“1.5” in “count” is not a whole number."),
        ({"count": 0}, "“0” in “count” must be at least 1."),
        ({"count": 10}, "“10” in “count” must be at most 9."),
        ({"share": 0}, "“0” in “share” must be more than 0"),
        ({"share": 1}, "“1” in “share” must be less than 1"),
        ({"share": "much"}, "“much” in “share” is not a number."),
        ({"name": "a"}, "“a” in “name” must have at least 2 letters."),
        ({"name": "abcde"}, "“abcde” in “name” must have at most 4 letters."),
        ({"name": 7}, "“7” in “name” is not text."),
        ({"word": "moist"}, "“moist” in “word” is not one of the words known here."),
        ({"many": []}, "“many” needs at least 1."),
        ({"many": [1, 2, 3]}, "“many” takes at most 2."),
        ({"many": 3}, "“3” in “many” is not a list."),
        ({"yes": "perhaps"}, "“perhaps” in “yes” is neither true nor false."),
        ({"length": "4 kg"}, "“4 kg” is not a length."),
        ({"length": "long"}, "“long” does not start with a number."),
        ({"at": "noon"}, "“noon” in “at” is not a date and time."),
        ({"extra": 1}, "“extra” is not known here."),
    ],
)
def test_says_what_is_wrong(values: dict[str, Any], words: str) -> None:
    assert told(complaint(**values)).message.startswith(words.rstrip("."))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"height": "0.9 mm"}, "“0.9 mm” in “height” must be at least 1 mm."),
        ({"width": "0.02 in"}, "“0.02 in” in “width” must be at least 1 mm."),
        ({"height": "6 m"}, "“6 m” in “height” must be at most 5 m."),
        ({"wax_mass": "501 kg"}, "“501 kg” in “wax_mass” must be at most 500 kg."),
        ({"wax_mass": "0 lb"}, "“0 lb” in “wax_mass” must be more than 0 kg."),
        ({"zones": [{**ZONE_IN, "width": "0.9 mm"}]}, "“0.9 mm” in “zones[0].width” must be at least 1 mm."),
    ],
)
def test_a_size_is_told_with_its_unit(change: dict[str, Any], words: str) -> None:
    plain = {"name": "Teal", "room_id": 1, "zones": [ZONE_IN]}
    with pytest.raises(ValidationError) as error:
        MouldChangeIn.model_validate(plain | change)
    assert told(error.value.errors()[0]).message == words


def test_a_time_without_a_zone_is_told_how_to_write_it() -> None:
    problem = told(complaint(at=datetime(2025, 12, 12, 14, 20)))
    assert "has no time zone" in problem.message
    assert "+00:00" in problem.todo


def test_a_word_that_is_none_is_told_which_there_are() -> None:
    assert "'wet' or 'dry'" in told(complaint(word="moist")).todo


def test_a_kind_of_complaint_without_words_still_names_the_field() -> None:
    problem = told({"type": "something_new", "loc": ("body", "tank"), "input": {}})
    assert problem.message == "“tank” cannot be used."


@pytest.mark.parametrize(
    ("loc", "field"),
    [
        (("body", "zones", 0, "height"), "zones[0].height"),
        (("query", "limit"), "limit"),
        (("path", "mould_id"), "mould_id"),
        (("body",), ""),
        ((), ""),
        (("tank",), "tank"),
        (("flow_s",), "flow"),
        (("temperature_k",), "temperature"),
        (("density_kg_m3",), "density"),
        (("water_added_kg",), "water_added"),
    ],
)
def test_the_place(loc: tuple[int | str, ...], field: str) -> None:
    assert field_of(loc) == field
