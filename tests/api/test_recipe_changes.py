"""What differs between two recipes, in words people say."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from api.fakes import PANEL, SALTMARSH, WADER
from api.recipe_changes import aligned, changes
from service.records.recipes import AirLimits, CoatStep, Recipe, WireStep
from service.units import Units


def with_steps(recipe: Recipe, change: Any) -> Recipe:
    steps = list(recipe.steps)
    change(steps)
    return recipe.model_copy(update={"steps": tuple(steps)})


def with_coat(recipe: Recipe, *at: int, **said: Any) -> Recipe:
    def change(steps: list[Any]) -> None:
        for place in at:
            steps[place] = steps[place].model_copy(update=said)

    return with_steps(recipe, change)


def test_the_same_is_nothing() -> None:
    assert changes(WADER, WADER, None) == []


@pytest.mark.parametrize(
    ("new", "line"),
    [
        (with_coat(WADER, 2, least_wait_s=10800.0), "Coat 3, backup: least wait 1 h → 3 h"),
        (with_coat(WADER, 2, 3, 4, least_wait_s=5400.0), "Coats 3 to 5, backup: least wait 1 h → 90 min"),
        (with_coat(WADER, 0, longest_wait_s=None), "Coat 1, prime: longest wait 6 h → nothing said"),
        (
            with_coat(WADER, 0, stucco="", pre_wet=True),
            "Coat 1, prime: stucco fine zircon → nothing said; pre-wet before it no → yes",
        ),
        (with_coat(WADER, 7, tank="white"), "Coat 8, seal: tank grey → white"),
        (with_coat(WADER, 8, water_limit=0.03), "Final dry: water left, by weight 2 % → 3 %"),
        (WADER.model_copy(update={"title": "Waders"}), "Title: Wader → Waders"),
        (
            WADER.model_copy(update={"for_work": ""}),
            "For which work: waders up to half a metre → nothing said",
        ),
        (
            WADER.model_copy(update={"backup_air": AirLimits(lowest_humidity=0.4, highest_humidity=0.55)}),
            "Air while backup coats are on: highest humidity 60 % → 55 %",
        ),
    ],
)
def test_one_change_is_one_sentence(new: Recipe, line: str) -> None:
    assert changes(WADER, new, None) == [line]


def test_both_ways() -> None:
    new = with_coat(WADER, 2, least_wait_s=10800.0)
    assert changes(new, WADER, None) == ["Coat 3, backup: least wait 3 h → 1 h"]


def test_a_coat_more_moves_no_other() -> None:
    extra = CoatStep(kind="backup", tank="grey", slurry="coarse", thickness_m=2e-3)  # type: ignore[arg-type]
    new = with_steps(WADER, lambda steps: steps.insert(4, extra))
    assert changes(WADER, new, None) == ["Coat 5, backup: new"]
    assert changes(new, WADER, None) == ["Coat 5, backup: taken out (it was there before)"]


def test_wires_put_in_and_taken_out() -> None:
    new = with_steps(WADER, lambda steps: steps.insert(4, WireStep(where="legs")))
    assert changes(WADER, new, None) == ["Wires on coat 4: new"]
    assert changes(new, WADER, None) == ["Wires on coat 4: taken out (it was there before)"]


def test_in_the_persons_units() -> None:
    us = replace(SALTMARSH, units=Units.US)
    new = with_coat(WADER, 2, thickness_m=0.0016)
    assert changes(WADER, new, us) == ["Coat 3, backup: thickness 0.04331 in → 0.06299 in"]


def test_quite_another_recipe_is_told_whole() -> None:
    lines = changes(WADER, PANEL, None)
    assert "Wires on coat 5: new" in lines
    assert any(line.endswith(": new") and line.startswith("Coat") for line in lines)


def test_every_step_is_paired_once() -> None:
    pairs = aligned(WADER.steps, PANEL.steps)
    assert [old for old, _ in pairs if old is not None] == list(range(len(WADER.steps)))
    assert [new for _, new in pairs if new is not None] == list(range(len(PANEL.steps)))
