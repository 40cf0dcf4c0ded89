"""A recipe knows its coats, its wires and its final dry."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from service.records.recipes import CoatKind, CoatStep, FinalDryStep, Recipe, WireStep

PRIME = CoatStep(kind=CoatKind.PRIME, tank="white", thickness_m=0.6e-3)
BACKUP = CoatStep(kind=CoatKind.BACKUP, tank="grey", thickness_m=1.1e-3)
WIRE, DRY = WireStep(), FinalDryStep(least_wait_s=3600.0)


def recipe(*steps: CoatStep | WireStep | FinalDryStep) -> Recipe:
    return Recipe(name="x", title="X", steps=steps)


def test_coats_are_the_dips_in_order() -> None:
    assert recipe(PRIME, WIRE, BACKUP, BACKUP, DRY).coats == (PRIME, BACKUP, BACKUP)


def test_the_final_dry_is_found() -> None:
    assert recipe(PRIME, BACKUP, DRY).final_dry == DRY


def test_wires_are_counted_by_the_coat_they_lie_on() -> None:
    panel = recipe(PRIME, BACKUP, WIRE, BACKUP, WIRE, BACKUP, BACKUP, DRY)
    assert panel.wire_coats == (2, 3)
    assert [panel.wires_after(coat) for coat in range(1, 6)] == [False, True, True, False, False]


def test_no_wires_are_no_wires() -> None:
    assert recipe(PRIME, BACKUP, DRY).wire_coats == ()


@pytest.mark.parametrize("name", ["", "Gate", "gate panel", "-gate", "gate_panel", "../gate", "x" * 61])
def test_a_name_that_cannot_name_a_file_is_refused(name: str) -> None:
    with pytest.raises(ValidationError):
        Recipe(name=name, title="X", steps=(PRIME,))


def test_a_recipe_lives_in_a_fact_and_comes_back() -> None:
    panel = recipe(PRIME, BACKUP, WIRE, BACKUP, BACKUP, DRY)
    assert Recipe.model_validate_json(panel.model_dump_json()) == panel
