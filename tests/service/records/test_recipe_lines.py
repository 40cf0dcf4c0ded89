"""The file's tables stand for the parts of a recipe: the same keys, limits and usual values."""

from __future__ import annotations

import pytest
from annotated_types import BaseMetadata
from pydantic import BaseModel

from service.records.recipe_lines import AirLines, CoatLines, FinalDryLines, RecipeFile, WireLines
from service.records.recipes import AirLimits, CoatStep, FinalDryStep, Recipe, WireStep

PAIRS: list[tuple[type[BaseModel], type[BaseModel]]] = [
    (CoatLines, CoatStep),
    (WireLines, WireStep),
    (FinalDryLines, FinalDryStep),
    (AirLines, AirLimits),
    (RecipeFile, Recipe),
]


@pytest.mark.parametrize(("lines", "part"), PAIRS)
def test_both_hold_the_same_fields(lines: type[BaseModel], part: type[BaseModel]) -> None:
    assert set(lines.model_fields) == set(part.model_fields)


@pytest.mark.parametrize(("lines", "part"), PAIRS[:4])
def test_what_is_left_out_means_the_same(lines: type[BaseModel], part: type[BaseModel]) -> None:
    for name, field in part.model_fields.items():
        assert lines.model_fields[name].default == field.default, name


@pytest.mark.parametrize(("lines", "part"), PAIRS[:3])
def test_limits_are_the_same(lines: type[BaseModel], part: type[BaseModel]) -> None:
    for name, field in part.model_fields.items():
        wanted = [rule for rule in field.metadata if isinstance(rule, BaseMetadata)]
        found = [rule for rule in lines.model_fields[name].metadata if isinstance(rule, BaseMetadata)]
        assert found == wanted, name


def test_no_key_of_a_file_carries_a_unit() -> None:
    for lines, _ in PAIRS:
        for name, field in lines.model_fields.items():
            key = field.alias or name
            assert not key.endswith(("_m", "_s", "_k", "_m3")), key
