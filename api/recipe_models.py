"""Recipes as JSON."""

from __future__ import annotations

from pydantic import Field

from api.models import In, Out, example
from service.records.recipe_files import write_recipe
from service.records.recipes import AirLimits, CoatStep, FinalDryStep, Recipe, WireStep

COAT = {
    "step": "coat",
    "kind": "prime",
    "tank": "white",
    "slurry": "colloidal silica and fused silica flour",
    "stucco": "fused silica, 50-100 mesh",
    "thickness_m": 0.0006,
    "porosity": 0.29,
    "dry_density_kg_m3": 1650.0,
    "immersion_s": 15.0,
    "ready_saturation": 0.35,
    "least_wait_s": 7200.0,
    "longest_wait_s": 21600.0,
    "pre_wet": False,
}
TOML = """\
name = "small-bird"
title = "Small bird"

[[steps]]
step = "coat"
kind = "prime"
tank = "white"
thickness = "0.6 mm"
least_wait = "2 h"
longest_wait = "6 h"

[[steps]]
step = "coat"
kind = "backup"
tank = "grey"
thickness = "1.1 mm"

[[steps]]
step = "final dry"
water_limit = "2 %"
least_wait = "24 h"
"""


class RecipeOut(Out):
    """The ordered steps for a class of work. `toml`: the same as text, to be edited."""

    model_config = example(
        {
            "name": "wading-bird",
            "title": "Wading bird",
            "for_work": "birds on thin legs",
            "steps": [COAT, {"step": "final dry", "water_limit": 0.02, "least_wait_s": 86400.0}],
            "prime_air": {"lowest_temperature_k": 294.15, "highest_temperature_k": 296.15},
            "backup_air": {"lowest_humidity": 0.4, "highest_humidity": 0.6},
            "toml": 'name = "wading-bird" ...',
        }
    )
    name: str
    title: str
    for_work: str
    steps: list[CoatStep | WireStep | FinalDryStep]
    prime_air: AirLimits
    backup_air: AirLimits
    toml: str


class RecipeIn(In):
    """A recipe as TOML text. Under a name that is taken it takes the old one's place for moulds hung up later."""

    model_config = example({"toml": TOML})
    toml: str = Field(min_length=1, max_length=100_000)


def recipe_out(recipe: Recipe) -> RecipeOut:
    plain = {name: getattr(recipe, name) for name in RecipeOut.model_fields if name != "toml"}
    return RecipeOut.model_validate({**plain, "toml": write_recipe(recipe)})
