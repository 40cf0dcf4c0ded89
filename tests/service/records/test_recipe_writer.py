"""A written recipe reads back just the same, in words a person would write."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import BadInput
from service.records.plain import UNSEEN, not_blank, one_line
from service.records.recipe_files import RecipeShelf, read_recipe, write_recipe
from service.records.recipes import AirLimits, CoatKind, CoatStep, FinalDryStep, Recipe, WireStep
from tests.service.records.making import recipe
from tests.service.records.test_recipe_files import SHIPPED

WORDS = st.text(st.characters(codec="utf-8"), max_size=20)
SHARES = st.floats(0.01, 0.95)


def names(longest: int) -> st.SearchStrategy[str]:
    letters = st.characters(codec="utf-8", exclude_categories=UNSEEN)
    return st.text(letters, min_size=1, max_size=longest).filter(_is_name)


def _is_name(text: str) -> bool:
    try:
        return not_blank(one_line(text)) == text
    except BadInput:
        return False


def steps(waits: list[float]) -> st.SearchStrategy[CoatStep]:
    return st.builds(
        CoatStep,
        kind=st.just(CoatKind.PRIME),
        tank=names(60),
        slurry=WORDS,
        stucco=WORDS,
        thickness_m=st.floats(1e-5, 0.02),
        porosity=SHARES,
        dry_density_kg_m3=st.floats(50, 2e4),
        immersion_s=st.floats(0, 600),
        ready_saturation=SHARES,
        least_wait_s=st.floats(0, waits[0]),
        longest_wait_s=st.none() | st.floats(waits[0], waits[1]),
        pre_wet=st.booleans(),
    )


RECIPES = st.builds(
    Recipe,
    name=st.from_regex(r"[a-z0-9][a-z0-9-]{0,20}", fullmatch=True),
    title=names(80),
    for_work=WORDS,
    steps=st.tuples(
        steps([1e5, 1e6]),
        st.builds(WireStep, where=WORDS),
        steps([1e5, 1e6]),
        steps([1e5, 1e6]),
        st.builds(FinalDryStep, water_limit=SHARES, least_wait_s=st.floats(0, 1e6)),
    ),
    prime_air=st.builds(
        AirLimits,
        lowest_temperature_k=st.none() | st.floats(260, 290),
        highest_temperature_k=st.none() | st.floats(291, 320),
        lowest_humidity=st.none() | st.floats(0, 0.4),
        highest_humidity=st.none() | st.floats(0.5, 1),
        largest_swing_k=st.none() | st.floats(0.01, 10),
    ),
)


@given(recipe=RECIPES)
def test_any_recipe_reads_back_just_the_same(recipe: Recipe) -> None:
    assert read_recipe(write_recipe(recipe), "x.toml") == recipe


def test_shipped_recipes_read_back_just_the_same() -> None:
    for shipped in RecipeShelf(SHIPPED, SHIPPED).all():
        assert read_recipe(write_recipe(shipped), "x.toml") == shipped


def test_a_recipe_is_written_as_a_person_would() -> None:
    written = recipe().model_copy(
        update={
            "prime_air": AirLimits(lowest_temperature_k=294.15, lowest_humidity=0.5, highest_humidity=0.7)
        }
    )
    assert (
        write_recipe(written)
        == """\
name = "wading-bird"
title = "Wading bird"

[[steps]]
step = "coat"
kind = "prime"
tank = "white"
thickness = "0.6 mm"
longest_wait = "6 h"

[[steps]]
step = "coat"
kind = "backup"
tank = "grey"
thickness = "1.1 mm"

[[steps]]
step = "final dry"

[prime_air]
lowest_temperature = "21 degC"
lowest_humidity = "50 %"
highest_humidity = "70 %"
"""
    )


@pytest.mark.parametrize(
    ("seconds", "written"),
    [
        (7200.0, "2 h"),
        (5400.0, "90 min"),
        (2700.0, "45 min"),
        (15.0, "15 s"),
        (60.0, "1 min"),
        (61.0, "61 s"),
        (86400.0, "24 h"),
        (0.1, "0.1 s"),
    ],
)
def test_waits_are_written_the_short_way(seconds: float, written: str) -> None:
    step = recipe().coats[0].model_copy(update={"least_wait_s": seconds, "longest_wait_s": None})
    text = write_recipe(recipe().model_copy(update={"steps": (step, *recipe().steps[1:])}))
    assert f'least_wait = "{written}"' in text


@pytest.mark.parametrize("words", ['say "white"', "back\\slash", "two\nlines", "\x7f\x01", "Großes Tor 🐦"])
def test_any_words_are_written_as_toml(words: str) -> None:
    text = write_recipe(recipe().model_copy(update={"title": words}))
    assert tomllib.loads(text)["title"] == words
