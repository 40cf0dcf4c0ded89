"""Recipes are read with units, every mistake is told in words, and the shop's own stand before shipped ones."""

from __future__ import annotations

import os
import time
from importlib.resources import files
from pathlib import Path

import pytest

from service.errors import BadInput, NotFound, Unavailable
from service.records.recipe_files import RecipeShelf, read_recipe
from service.records.recipes import CoatKind, CoatStep, FinalDryStep, Recipe, WireStep
from tests.service.records.making import told

SHIPPED = Path(str(files("configs"))) / "recipes"

WHOLE = """
name = "gate-panel"
title = "Gate panel"
for_work = "flat panels"

[[steps]]
step = "coat"
kind = "prime"
tank = "white"
slurry = "fine"
stucco = "50-100 mesh"
thickness = "0.6 mm"
porosity = "25 %"
dry_density = "1700 kg/m3"
immersion = "20 s"
ready_saturation = 0.4
least_wait = "2 h"
longest_wait = "360 min"
pre_wet = true

[[steps]]
step = "reinforcement wire"
where = "both ways"

[[steps]]
step = "coat"
kind = "backup"
tank = "grey"
thickness = "0.04 in"

[[steps]]
step = "coat"
kind = "seal"
tank = "grey"
thickness = "0.3 mm"

[[steps]]
step = "final dry"
water_limit = "2.5 %"
least_wait = "2 days"

[prime_air]
lowest_temperature = "70 degF"
highest_temperature = "23 degC"
lowest_humidity = "50 %"
highest_humidity = 0.7
largest_swing = "3 delta_degF"

[backup_air]
highest_humidity = "60 %"
"""


def with_line(old: str, new: str) -> str:
    assert WHOLE.count(old) >= 1
    return WHOLE.replace(old, new, 1)


def test_everything_a_recipe_can_say_is_read_in_si() -> None:
    recipe = read_recipe(WHOLE, "gate-panel.toml")
    first = recipe.coats[0]
    assert (recipe.name, recipe.title, recipe.for_work) == ("gate-panel", "Gate panel", "flat panels")
    assert first == CoatStep(
        kind=CoatKind.PRIME,
        tank="white",
        slurry="fine",
        stucco="50-100 mesh",
        thickness_m=0.6e-3,
        porosity=0.25,
        dry_density_kg_m3=1700.0,
        immersion_s=20.0,
        ready_saturation=0.4,
        least_wait_s=7200.0,
        longest_wait_s=21600.0,
        pre_wet=True,
    )
    assert recipe.coats[1].thickness_m == pytest.approx(1.016e-3)
    assert recipe.wire_coats == (1,)
    assert recipe.steps[1] == WireStep(where="both ways")
    assert recipe.final_dry == FinalDryStep(water_limit=0.025, least_wait_s=172800.0)
    assert recipe.prime_air.lowest_temperature_k == pytest.approx(294.261, abs=1e-3)
    assert recipe.prime_air.highest_temperature_k == pytest.approx(296.15)
    assert (recipe.prime_air.lowest_humidity, recipe.prime_air.highest_humidity) == (0.5, 0.7)
    assert recipe.prime_air.largest_swing_k == pytest.approx(1.6667, abs=1e-4)
    assert recipe.backup_air.highest_humidity == 0.6
    assert recipe.backup_air.lowest_temperature_k is None


def test_what_is_left_out_is_as_usual() -> None:
    second = read_recipe(WHOLE, "x").coats[1]
    assert (second.immersion_s, second.ready_saturation, second.porosity) == (15.0, 0.35, 0.29)
    assert (second.least_wait_s, second.longest_wait_s, second.pre_wet) == (0.0, None, False)


@pytest.mark.parametrize(("written", "porosity"), [("95 %", 0.95), ("1 %", 0.01)])
def test_a_limit_may_be_reached(written: str, porosity: float) -> None:
    assert read_recipe(WHOLE.replace("25 %", written), "x").coats[0].porosity == porosity


def test_plain_parts_come_back_not_file_lines() -> None:
    recipe = read_recipe(WHOLE, "x")
    assert {type(step) for step in recipe.steps} == {CoatStep, WireStep, FinalDryStep}
    assert type(recipe) is Recipe
    assert Recipe.model_validate_json(recipe.model_dump_json()) == recipe


@pytest.mark.parametrize(
    ("old", "new", "code", "words"),
    [
        ('thickness = "0.6 mm"', 'thicknes = "0.6 mm"', "key_unknown", ["thicknes", "“thickness”"]),
        ('thickness = "0.6 mm"', 'thickness = "0.6"', "unit_missing", ["thickness", "0.6"]),
        ('thickness = "0.6 mm"', "thickness = 0.6", "unit_missing", ["thickness", "no unit"]),
        ('thickness = "0.6 mm"', 'thickness = "0.6 kg"', "unit_wrong", ["thickness", "length"]),
        ('thickness = "0.6 mm"', 'thickness = "0.6 furlongz"', "unit_unknown", ["thickness"]),
        (
            'thickness = "0.6 mm"',
            'thickness = "21 mm"',
            "value_wrong",
            ["thickness", "too large", "at most 20"],
        ),
        ('thickness = "0.6 mm"', 'thickness = "0 mm"', "value_wrong", ["thickness", "too small"]),
        ('porosity = "25 %"', 'porosity = "96 %"', "value_wrong", ["“96 %” is too large", "at most 95 %"]),
        ('thickness = "0.6 mm"\n', "", "key_missing", ["thickness", "missing"]),
        ('kind = "prime"', 'kind = "primer"', "value_wrong", ["kind", "primer", "prime"]),
        ('tank = "white"', 'tank = ""', "value_wrong", ["tank"]),
        ('immersion = "20 s"', 'immersion = "20 mm"', "unit_wrong", ["immersion", "time"]),
        (
            "ready_saturation = 0.4",
            "ready_saturation = 1.0",
            "value_wrong",
            ["ready_saturation", "too large"],
        ),
        ("ready_saturation = 0.4", "ready_saturation = nan", "not_finite", ["ready_saturation"]),
        ("pre_wet = true", 'pre_wet = "maybe"', "value_wrong", ["pre_wet", "true or false"]),
        ('water_limit = "2.5 %"', 'water_limit = "0 %"', "value_wrong", ["water_limit"]),
        ('step = "final dry"', 'step = "final dri"', "step_unknown", ["final dri", "“final dry”", "no. 5"]),
        ('step = "coat"\n', "", "step_unknown", ["no. 1", "does not say what it is"]),
        ('lowest_humidity = "50 %"', 'lowest_humidity = "150 %"', "value_wrong", ["lowest_humidity"]),
        ("[prime_air]", "[prime_aire]", "key_unknown", ["prime_aire", "“prime_air”"]),
        ('largest_swing = "3 delta_degF"', 'largest_swing = "3 m"', "unit_wrong", ["largest_swing"]),
        ('name = "gate-panel"', 'name = "Gate Panel"', "value_wrong", ["name", "Gate Panel"]),
        ('title = "Gate panel"\n', "", "key_missing", ["title"]),
        ('title = "Gate panel"', 'title = "Gate panel', "toml_syntax", ["TOML", "line 3"]),
    ],
)
def test_each_mistake_is_told_with_file_and_key(old: str, new: str, code: str, words: list[str]) -> None:
    with told(BadInput, code, "my-panel.toml", *words):
        read_recipe(with_line(old, new), "my-panel.toml")


def test_an_empty_file_is_told() -> None:
    with told(BadInput, "key_missing", "empty.toml"):
        read_recipe("", "empty.toml")


def test_steps_that_are_no_list_are_told() -> None:
    with told(BadInput, "value_wrong", "x.toml", "steps"):
        read_recipe('name = "x"\ntitle = "X"\nsteps = "coat"', "x.toml")


# The shelf


@pytest.fixture
def own(tmp_path: Path) -> Path:
    return tmp_path / "recipes"


@pytest.fixture
def shelf(own: Path) -> RecipeShelf:
    return RecipeShelf(SHIPPED, own)


def test_shipped_recipes_can_all_be_read(shelf: RecipeShelf) -> None:
    assert [recipe.name for recipe in shelf.all()] == ["bell-or-head", "gate-panel", "wading-bird"]
    assert shelf.unreadable() == []


def test_shipped_recipes_are_what_the_bench_expects(shelf: RecipeShelf) -> None:
    kinds = {
        r.name: "".join({"prime": "p", "backup": "b", "seal": "s"}[c.kind] for c in r.coats)
        for r in shelf.all()
    }
    assert kinds == {"wading-bird": "ppbbbbbbs", "gate-panel": "ppbbbbbbbs", "bell-or-head": "ppbbbbbbbs"}
    assert {r.name: r.wire_coats for r in shelf.all()} == {
        "wading-bird": (),
        "gate-panel": (4, 6),
        "bell-or-head": (),
    }
    assert shelf.get("bell-or-head").final_dry.least_wait_s == 48 * 3600
    for recipe in shelf.all():
        prime = recipe.coats[0]
        assert (prime.least_wait_s, prime.longest_wait_s) == (7200.0, 21600.0)
        assert recipe.prime_air.largest_swing_k == pytest.approx(1.7)


def test_shipped_recipes_say_where_their_numbers_come_from() -> None:
    for file in SHIPPED.glob("*.toml"):
        assert "common practice, no source" in file.read_text(encoding="utf-8"), file.name


def test_a_recipe_by_name(shelf: RecipeShelf) -> None:
    assert shelf.get("gate-panel").title == "Gate panel"


@pytest.mark.parametrize(("name", "words"), [("gate-pannel", "“gate-panel”"), ("zzz", "wading-bird")])
def test_an_unknown_recipe_is_told_with_the_nearest(shelf: RecipeShelf, name: str, words: str) -> None:
    with told(NotFound, "recipe_unknown", name, words):
        shelf.get(name)


@pytest.mark.parametrize("name", ["../site", "/etc/passwd", "", "."])
def test_a_name_is_no_path(shelf: RecipeShelf, name: str) -> None:
    with told(NotFound, "recipe_unknown"):
        shelf.get(name)


def test_an_own_recipe_is_kept_as_it_was_written(shelf: RecipeShelf, own: Path) -> None:
    text = "# ours\n" + WHOLE.replace("gate-panel", "reed-panel")
    recipe = shelf.keep(text)
    assert (own / "reed-panel.toml").read_text(encoding="utf-8") == text
    assert shelf.get("reed-panel") == recipe
    assert [r.name for r in shelf.all()] == ["bell-or-head", "gate-panel", "reed-panel", "wading-bird"]
    assert [path.name for path in own.iterdir()] == ["reed-panel.toml"]


def test_an_own_recipe_stands_before_a_shipped_one(shelf: RecipeShelf) -> None:
    shelf.keep(WHOLE)
    assert len(shelf.get("gate-panel").coats) == 3
    assert len(shelf.all()) == 3


def test_keeping_again_takes_the_place_of_the_old(shelf: RecipeShelf) -> None:
    shelf.keep(WHOLE)
    shelf.keep(with_line("flat panels", "gates"))
    assert shelf.get("gate-panel").for_work == "gates"


def test_an_edit_of_a_file_counts_at_once(shelf: RecipeShelf, own: Path) -> None:
    shelf.keep(WHOLE)
    (own / "gate-panel.toml").write_text(with_line("flat panels", "gates"), encoding="utf-8")
    assert shelf.get("gate-panel").for_work == "gates"


def test_a_recipe_that_cannot_be_read_is_not_kept(shelf: RecipeShelf, own: Path) -> None:
    shelf.keep(WHOLE)
    with told(BadInput, "unit_missing"):
        shelf.keep(with_line('"0.6 mm"', '"0.6"'))
    assert shelf.get("gate-panel").coats[0].thickness_m == pytest.approx(0.6e-3)


def test_one_bad_file_does_not_hide_the_others(shelf: RecipeShelf, own: Path) -> None:
    own.mkdir()
    (own / "mine.toml").write_text("name = ")
    (own / "gate-panel.toml").write_bytes(b"\xff\xfe\x00")
    assert [recipe.name for recipe in shelf.all()] == ["bell-or-head", "wading-bird"]
    assert [error.code for error in shelf.unreadable()] == ["file_not_text", "toml_syntax"]
    with told(BadInput, "toml_syntax", "mine.toml"):
        shelf.get("mine")


def test_a_file_must_be_named_after_its_recipe(shelf: RecipeShelf, own: Path) -> None:
    own.mkdir()
    (own / "copy.toml").write_text(WHOLE, encoding="utf-8")
    with told(BadInput, "recipe_name_differs", "copy.toml", "gate-panel.toml"):
        shelf.get("copy")
    assert [error.code for error in shelf.unreadable()] == ["recipe_name_differs"]


def test_a_shelf_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "recipes").write_text("a file in the way")
    with told(Unavailable, "database_read_only", "recipes"):
        RecipeShelf(SHIPPED, tmp_path / "recipes").keep(WHOLE)


def test_looking_again_costs_next_to_nothing(shelf: RecipeShelf) -> None:
    """A page asks for all recipes; reading TOML with units anew each time took 25 ms."""
    shelf.all()
    began = time.process_time()
    for _ in range(10):
        shelf.all()
    assert time.process_time() - began < 0.25


def test_a_folder_that_is_not_there_is_an_empty_one(tmp_path: Path) -> None:
    assert RecipeShelf(tmp_path / "a", tmp_path / "b").all() == []
    assert not os.listdir(tmp_path)


class TestTwoShelves:
    """Which file counts, and where it lies."""

    @pytest.fixture
    def shelf(self, tmp_path: Path) -> RecipeShelf:
        return RecipeShelf(SHIPPED, tmp_path / "recipes")

    def test_own_texts_and_shipped_ones(self, shelf: RecipeShelf, tmp_path: Path) -> None:
        assert shelf.own_texts() == {}
        shelf.keep(WHOLE)
        assert shelf.own_texts() == {"gate-panel": WHOLE}
        shipped = shelf.shipped("gate-panel")
        assert shipped
        assert shipped != shelf.get("gate-panel")
        assert shelf.shipped("herring") is None
        assert shelf.shipped("../recipes/gate-panel") is None
        (tmp_path / "recipes" / "broken.toml").write_text("name = ")
        assert set(shelf.own_texts()) == {"gate-panel"}

    def test_taken_off_the_shipped_one_counts_again(self, shelf: RecipeShelf) -> None:
        shelf.keep(WHOLE)
        shelf.take_off("gate-panel")
        shelf.take_off("gate-panel")
        assert shelf.get("gate-panel") == shelf.shipped("gate-panel")
