"""The moulds of the demo as planned: whole, distinct, of the shipped recipes, and never at an end."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from importlib.resources import files
from itertools import islice
from pathlib import Path

import pytest

from service.demo.plan import Plan, day_from
from service.demo.scenario import COMING, GONE, HANGING, MOULDS, next_wax
from service.demo.settings import read_demo_settings
from service.records.facts import ZoneKind
from service.records.recipe_files import RecipeShelf
from service.records.shop_facts import Site
from service.units import Units

SITE = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)
BEGINS = datetime(2026, 6, 10, 8, 15, tzinfo=UTC)  # 9:15 in London
EVERY = pytest.mark.parametrize("plan", MOULDS, ids=lambda plan: plan.name)


@pytest.fixture(scope="module")
def shelf() -> RecipeShelf:
    return RecipeShelf(Path(str(files("configs") / "recipes")), Path("nowhere"))


def test_about_a_dozen_hang_there_and_some_have_left() -> None:
    assert len(HANGING) == 12
    assert [plan.name for plan in GONE if plan.fails] == ["Egret"]
    assert [plan.name for plan in GONE if plan.failings] == ["Egret", "Grebe", "Reed plaque"]
    assert len(GONE) == 10


def test_no_two_pieces_failed_alike() -> None:
    faults = [failing.fault for plan in GONE for failing in plan.failings]
    assert len(set(faults)) == len(faults) == 5


@EVERY
def test_what_failed_is_of_a_place_it_has(plan: Plan) -> None:
    names = [zone.name for zone in plan.zones]
    assert all(failing.zone in names for failing in plan.failings)
    assert not (plan.failings and plan in HANGING)
    assert plan.result.verdict == ("failed" if plan.failings else "sound")


def test_names_and_hooks_are_distinct() -> None:
    assert len({plan.name for plan in MOULDS}) == len(MOULDS)
    assert len({plan.hook for plan in MOULDS}) == len(MOULDS)


def test_all_shipped_recipes_are_used(shelf: RecipeShelf) -> None:
    assert {plan.recipe for plan in MOULDS} == {recipe.name for recipe in shelf.all()}


def test_every_kind_of_zone_hangs_there() -> None:
    assert {zone.kind for plan in HANGING for zone in plan.zones} == set(ZoneKind)


@EVERY
def test_a_plan_makes_a_mould(plan: Plan, shelf: RecipeShelf) -> None:
    body = plan.body(shelf.get(plan.recipe), 1, plan.wanted_by(BEGINS, SITE))
    assert body.name == plan.name
    assert body.zones == plan.zones
    assert body.recipe.name == plan.recipe
    assert body.wax_mass_kg == plan.wax_mass_kg


@EVERY
def test_a_zone_is_no_larger_than_its_mould(plan: Plan) -> None:
    assert all(zone.height_m <= plan.height_m for zone in plan.zones)
    assert all(zone.width_m <= max(plan.height_m, plan.width_m) for zone in plan.zones)


@EVERY
def test_one_person_can_lift_it(plan: Plan) -> None:
    """Bronze weighs about ten times the wax (common practice); the shell is lifted with the wax alone in it."""
    assert 0.3 < plan.wax_mass_kg < 10.0


@EVERY
def test_it_was_hung_up_in_working_hours_within_the_demos_past(plan: Plan) -> None:
    assert plan.days_ago <= read_demo_settings(None).story.past_days
    assert SITE.day_starts_hour <= plan.hour < 12
    assert plan.started_at(BEGINS, SITE) <= BEGINS


@EVERY
def test_what_befell_it_befell_coats_it_has(plan: Plan, shelf: RecipeShelf) -> None:
    coats = len(shelf.get(plan.recipe).coats)
    told = [*plan.early, *plan.damp, *plan.dry, *plan.notes, *plan.weighed, *plan.slips, *plan.unwired]
    assert all(1 <= coat <= coats for coat in told)
    assert all(0.0 < share < 1.0 for share, _ in plan.early.values())
    assert all(0.0 < share < 1.0 for share in plan.damp.values())


def test_the_story_has_an_early_dip_a_correction_checks_notes_and_weights() -> None:
    assert [plan.name for plan in MOULDS if plan.early] == ["Egret", "Grebe"]
    assert [plan.name for plan in MOULDS if plan.unwired] == ["Reed plaque"]
    assert [plan.name for plan in MOULDS if plan.slips] == ["Oystercatcher"]
    for told in ("damp", "dry", "notes", "weighed"):
        assert any(getattr(plan, told) for plan in MOULDS)


def test_days_count_on_the_shops_calendar() -> None:
    avocet = next(plan for plan in MOULDS if plan.name == "Avocet")
    assert avocet.started_at(BEGINS, SITE) == datetime(2026, 6, 6, 7, 15, tzinfo=UTC)  # 8:15 in London
    assert avocet.wanted_by(BEGINS, SITE) == datetime(2026, 6, 13, 11, tzinfo=UTC)  # noon in London


def test_a_mould_may_be_wanted_by_no_day() -> None:
    assert GONE[0].wanted_by(BEGINS, SITE) is None


def test_a_day_over_the_change_of_clocks_starts_at_local_midnight() -> None:
    """London went to summer time on 29 March 2026 at 01:00 UTC."""
    begins = datetime(2026, 3, 30, 8, 15, tzinfo=UTC)
    assert day_from(begins, 0, SITE) == datetime(2026, 3, 29, 23, tzinfo=UTC)
    assert day_from(begins, -1, SITE) == datetime(2026, 3, 29, 0, tzinfo=UTC)
    assert day_from(begins, -1, SITE) + timedelta(hours=23) == day_from(begins, 0, SITE)


def test_the_next_wax_is_one_that_was_never_there() -> None:
    assert next_wax([]).name == COMING[0]
    assert next_wax([COMING[0], "Heron"]).name == COMING[1]


def test_waxes_never_run_out_and_never_repeat() -> None:
    taken = list[str]()
    for _ in islice(iter(int, 1), 25):
        taken.append(next_wax(taken).name)
    assert len(set(taken)) == 25
    assert taken[len(COMING)] == f"{COMING[0]} 2"


def test_a_new_wax_has_no_past(shelf: RecipeShelf) -> None:
    plan = next_wax([])
    assert not any((plan.early, plan.damp, plan.notes, plan.slips))
    assert plan.wanted_in_days is not None
    assert len(f"{plan.name}") <= 60
