"""A recipe as a form: nothing is changed by looking, steps can be moved, mistakes are told at their field."""

from __future__ import annotations

from dataclasses import replace
from importlib.resources import files

import pytest

from api.asked import Form
from api.fakes import PANEL, SALTMARSH, WADER
from api.recipe_form import Draft, draft_in, draft_of, empty_draft, name_from, step_name, text_of
from service.errors import BadInput
from service.records.recipe_files import read_recipe
from service.records.recipes import CoatStep, Recipe, WireStep
from service.units import Units

US = replace(SALTMARSH, units=Units.US)
SHIPPED = [path for path in (files("configs") / "recipes").iterdir() if path.name.endswith(".toml")]


def again(draft: Draft) -> Recipe:
    return read_recipe(text_of(draft), "again")


def with_step(draft: Draft, at: int, **typed: str) -> Draft:
    steps = list(draft.steps)
    steps[at] = {**steps[at], **{key.replace("__", "."): value for key, value in typed.items()}}
    return replace(draft, steps=tuple(steps))


@pytest.mark.parametrize("site", [None, US])
@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
def test_looked_at_and_kept_it_is_the_same_to_the_last_digit(path: object, site: object) -> None:
    recipe = read_recipe(path.read_text(encoding="utf-8"), "shipped")  # type: ignore[attr-defined]
    assert again(draft_of(recipe, site)) == recipe  # type: ignore[arg-type]


def test_what_is_shown_in_inches_stays_in_millimetres_behind_it() -> None:
    draft = draft_of(WADER, US)
    assert draft.steps[0]["thickness"] == "0.02362 in"
    assert again(draft).coats[0].thickness_m == 0.6e-3
    assert again(with_step(draft, 0, thickness="0.024 in")).coats[0].thickness_m == pytest.approx(
        0.024 * 0.0254
    )


@pytest.mark.parametrize(
    ("key", "typed", "name", "value"),
    [
        ("thickness", "0.04 in", "thickness_m", 0.001016),
        ("thickness", "1/16 in", "thickness_m", 0.0015875),
        ("thickness", "1,1 mm", "thickness_m", 0.0011),
        ("ready_saturation", ",4", "ready_saturation", 0.4),
        ("least_wait", "90 min", "least_wait_s", 5400.0),
        ("least_wait", "", "least_wait_s", 0.0),
        ("longest_wait", "", "longest_wait_s", None),
        ("ready_saturation", "0.4", "ready_saturation", 0.4),
        ("tank", 'the "white" one', "tank", 'the "white" one'),
        ("pre_wet", "yes", "pre_wet", True),
    ],
)
def test_typed_in_any_unit(key: str, typed: str, name: str, value: object) -> None:
    coat = again(with_step(draft_of(WADER, None), 0, **{key: typed})).coats[0]
    assert getattr(coat, name) == (pytest.approx(value) if isinstance(value, float) else value)


@pytest.mark.parametrize(
    ("typed", "kelvin"),
    [("2 °C", 2.0), ("3 °F", 3 / 1.8), ("2 K", 2.0), ("3 delta_degF", 3 / 1.8), ("2 degC", 2.0), ("", None)],
)
def test_a_swing_is_a_difference(typed: str, kelvin: float | None) -> None:
    draft = draft_of(WADER, None)
    swing = again(
        replace(draft, air={**draft.air, "prime_air-largest_swing": typed})
    ).prime_air.largest_swing_k
    assert swing == (None if kelvin is None else pytest.approx(kelvin))


class TestSteps:
    def words(self, draft: Draft) -> list[str]:
        return [step_name(draft.steps, at) for at in range(len(draft.steps))]

    def test_called_as_people_count(self) -> None:
        assert self.words(draft_of(PANEL, None))[4:7] == ["Coat 5", "Wires on coat 5", "Coat 6"]

    def test_another_coat_like_the_one_before(self) -> None:
        recipe = again(draft_of(WADER, None).moved("coat 2"))
        assert len(recipe.coats) == len(WADER.coats) + 1
        assert recipe.coats[3] == WADER.coats[2]

    def test_wires(self) -> None:
        recipe = again(draft_of(WADER, None).moved("wires 3"))
        assert isinstance(recipe.steps[4], WireStep)
        assert recipe.wire_coats == (4,)

    def test_moved_and_taken_away(self) -> None:
        draft = draft_of(PANEL, None)
        assert again(draft.moved("up 5")).wire_coats == (4,)
        assert again(draft.moved("down 5")).wire_coats == (6,)
        assert again(draft.moved("away 5")).wire_coats == ()

    def test_all_of_a_kind_alike(self) -> None:
        draft = with_step(draft_of(WADER, None), 3, least_wait="5 h").moved("like 3")
        assert [coat.least_wait_s for coat in again(draft).coats] == [7200, 7200, *[18000] * 5, 0]

    @pytest.mark.parametrize("said", ["", "up", "up 0", "down 99", "up -1", "fly 2", "up x", "up ٣", "keep"])
    def test_what_cannot_be_moves_nothing(self, said: str) -> None:
        draft = draft_of(WADER, None)
        assert draft.moved(said).steps == draft.steps

    def test_an_empty_one_is_nearly_a_recipe(self) -> None:
        draft = replace(empty_draft(None), title="Egret")
        for at in (0, 1):
            draft = with_step(draft, at, tank="grey")
        recipe = again(draft)
        assert (recipe.name, len(recipe.coats)) == ("egret", 2)


@pytest.mark.parametrize(
    ("at", "typed", "field", "words"),
    [
        (2, {"thickness": "0.6 kg"}, "s2-thickness", "Coat 3, Thickness: “0.6 kg” is not a length."),
        (2, {"thickness": "5"}, "s2-thickness", "“5” has no unit."),
        (2, {"tank": ""}, "s2-tank", "Coat 3, Tank: it is missing."),
        (2, {"thickness": "3 in"}, "s2-thickness", "is too large: it must be at most 20 mm"),
        (0, {"kind": "backup"}, "steps", "its first coat is a backup coat."),
        (8, {"step": "fly"}, "s8-step", "is called “fly”"),
    ],
)
def test_a_mistake_is_told_at_its_field(at: int, typed: dict[str, str], field: str, words: str) -> None:
    with pytest.raises(BadInput) as told:
        text_of(with_step(draft_of(WADER, None), at, **typed))
    assert told.value.field == field
    assert words in told.value.message
    assert "The recipe" not in told.value.message


def test_wires_out_of_order_are_told_at_their_step() -> None:
    with pytest.raises(BadInput) as told:
        text_of(draft_of(PANEL, None).moved("up 5").moved("wires 4"))
    assert told.value.field == "s5-step"
    assert "there is no coat just before it" in told.value.message


def test_air_is_told_at_its_field() -> None:
    draft = draft_of(WADER, None)
    with pytest.raises(BadInput) as told:
        text_of(replace(draft, air={**draft.air, "backup_air-lowest_humidity": "4 kg"}))
    assert told.value.field == "air-backup_air-lowest_humidity"


def test_from_the_posted_form_and_back() -> None:
    draft = draft_of(WADER, None)
    posted = {f"s{at}-{key}": value for at, step in enumerate(draft.steps) for key, value in step.items()}
    posted |= {f"air-{key}": value for key, value in draft.air.items()}
    form = Form(
        {
            "name": "wader",
            "title": "Wader",
            "for_work": WADER.for_work,
            "steps": str(len(draft.steps)),
            **posted,
        }
    )
    assert again(draft_in(form)) == WADER


@pytest.mark.parametrize("count", ["", "x", "-1", "9999999999", "٣"])
def test_a_spoilt_form_is_no_more_than_a_mistake(count: str) -> None:
    with pytest.raises(BadInput):
        text_of(draft_in(Form({"title": "x", "steps": count})))


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Small wading bird", "small-wading-bird"),
        ("Grúa, 2ª", "grua-2a"),
        ("!!", "recipe"),
        ("鶴", "recipe"),
        ("x" * 90, "x" * 60),
        ("Copy", "copy-recipe"),
        ("new!", "new-recipe"),
        ("Copy of it", "copy-of-it"),
    ],
)
def test_a_files_name_from_a_title(title: str, name: str) -> None:
    assert name_from(title) == name


def test_every_shipped_step_is_known() -> None:
    assert {type(step) for step in PANEL.steps} >= {CoatStep, WireStep}
