"""A recipe as a form made for people: its steps in order, every value as they would say it.

What is typed becomes the text of a recipe file and is checked as one, so that form and file are told the same.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from api.asked import Form
from service.errors import BadInput, ShopError
from service.records.recipe_files import read_recipe, write_recipe
from service.records.recipes import AirLimits, CoatStep, FinalDryStep, Recipe, WireStep
from service.records.shop_facts import Site
from service.units import Dimension, Units, registry
from service.voice import later, say
from service.words.numbers import units_of

Step = CoatStep | WireStep | FinalDryStep
Shown = dict[str, str]

WORDS = {"coat": CoatStep, "reinforcement wire": WireStep, "final dry": FinalDryStep}
QUANTITIES = {
    "thickness": ("thickness_m", Dimension.LENGTH),
    "least_wait": ("least_wait_s", Dimension.TIME),
    "longest_wait": ("longest_wait_s", Dimension.TIME),
    "ready_saturation": ("ready_saturation", Dimension.FRACTION),
    "immersion": ("immersion_s", Dimension.TIME),
    "porosity": ("porosity", Dimension.FRACTION),
    "dry_density": ("dry_density_kg_m3", Dimension.DENSITY),
    "water_limit": ("water_limit", Dimension.FRACTION),
}
TEXTS = ("kind", "tank", "slurry", "stucco", "where")
AIR = {
    "lowest_temperature": ("lowest_temperature_k", Dimension.TEMPERATURE),
    "highest_temperature": ("highest_temperature_k", Dimension.TEMPERATURE),
    "lowest_humidity": ("lowest_humidity", Dimension.FRACTION),
    "highest_humidity": ("highest_humidity", Dimension.FRACTION),
    "largest_swing": ("largest_swing_k", Dimension.TEMPERATURE_DIFFERENCE),
}
OF_STEP = {
    "coat": (*TEXTS[:4], *list(QUANTITIES)[:7], "pre_wet"),
    "reinforcement wire": ("where",),
    "final dry": ("water_limit", "least_wait"),
}
UNITS: dict[Dimension, dict[Units, tuple[str, str]]] = {
    Dimension.LENGTH: {Units.METRIC: ("mm", "mm"), Units.US: ("inch", "in")},
    Dimension.FRACTION: dict.fromkeys(Units, ("percent", "%")),
    Dimension.TEMPERATURE: {Units.METRIC: ("degC", "°C"), Units.US: ("degF", "°F")},
    Dimension.TEMPERATURE_DIFFERENCE: {Units.METRIC: ("delta_degC", "°C"), Units.US: ("delta_degF", "°F")},
    Dimension.DENSITY: dict.fromkeys(Units, ("kg/m**3", "kg/m3")),
}
DIGITS = 4
SWING = re.compile(r"(?:delta[_ ]?)?(?:°|deg(?:rees?)?)?\s*([CFK])\b\.?$", re.IGNORECASE)
DECIMAL_COMMA = re.compile(r"^([+-]?\d*),(?=\d)", re.ASCII)
"""As most of Europe and Latin America write 1.1."""
NEW_COAT = {"kind": "backup", "thickness": "1.1 mm", "least_wait": "1 h"}
PLACE = re.compile(r"steps no\. (\d+)(?:, (\w+))?")


@dataclass(frozen=True, slots=True)
class Draft:
    """A recipe being written: text as typed. exact: of a field, what was shown and the value behind it.

    Only what a person typed anew is read; a value shown rounded, and left alone, stays what it was.
    """

    name: str = ""
    title: str = ""
    for_work: str = ""
    steps: tuple[Shown, ...] = ()
    air: Shown = field(default_factory=dict)

    def moved(self, said: str) -> Draft:
        """After a button that adds, moves or takes away a step: ``up 3``, ``away 3``, ``coat 3``, ``like 3``."""
        word, _, number = said.partition(" ")
        at = int(number) if number.isascii() and number.isdigit() and int(number) < len(self.steps) else -1
        return replace(self, steps=tuple(_moved(list(self.steps), word, at))) if at >= 0 else self


def _moved(steps: list[Shown], word: str, at: int) -> list[Shown]:
    if word == "away":
        return steps[:at] + steps[at + 1 :]
    if word == "coat":
        return [*steps[: at + 1], _coat_like(steps, at), *steps[at + 1 :]]
    if word == "wires":
        return [*steps[: at + 1], {"step": "reinforcement wire", "where": ""}, *steps[at + 1 :]]
    if word == "like":
        return [_alike(step, steps[at]) for step in steps]
    other = at - 1 if word == "up" else at + 1
    if word in ("up", "down") and 0 <= other < len(steps):
        steps[at], steps[other] = steps[other], steps[at]
    return steps


def _coat_like(steps: Sequence[Shown], at: int) -> Shown:
    """A new coat like the nearest one before it."""
    before = next((step for step in reversed(steps[: at + 1]) if step["step"] == "coat"), NEW_COAT)
    return {**before, "step": "coat"}


def _alike(step: Shown, pattern: Shown) -> Shown:
    same = step["step"] == pattern["step"] and step.get("kind") == pattern.get("kind")
    return dict(pattern) if same else step


# From a recipe to what is shown


def draft_of(recipe: Recipe, site: Site | None) -> Draft:
    """As a person reads it, in their units."""
    units = units_of(site)
    airs = {"prime_air": recipe.prime_air, "backup_air": recipe.backup_air}
    air = {
        f"{table}-{key}": value
        for table, limits in airs.items()
        for key, value in _air(limits, units).items()
    }
    steps = tuple(_step(step, units) for step in recipe.steps)
    return Draft(recipe.name, recipe.title, recipe.for_work, steps, air)


def empty_draft(site: Site | None) -> Draft:
    """To begin with: two coats and the final dry."""
    steps = (
        {**NEW_COAT, "step": "coat", "kind": "prime", "thickness": "0.6 mm", "least_wait": "2 h"},
        {**NEW_COAT, "step": "coat"},
    )
    return Draft(steps=(*steps, {"step": "final dry", "water_limit": "2 %", "least_wait": "24 h"}))


def _step(step: Step, units: Units) -> Shown:
    shown = {"step": step.step, "pre_wet": "yes" if getattr(step, "pre_wet", False) else ""}
    shown |= {key: str(getattr(step, key)) for key in TEXTS if hasattr(step, key)}
    for key, (name, dimension) in QUANTITIES.items():
        if hasattr(step, name):
            shown |= _with_exact(key, getattr(step, name), dimension, units)
    return shown


def _air(limits: AirLimits, units: Units) -> Shown:
    shown: Shown = {}
    for key, (name, dimension) in AIR.items():
        shown |= _with_exact(key, getattr(limits, name), dimension, units)
    return shown


def _with_exact(key: str, value: float | None, dimension: Dimension, units: Units) -> Shown:
    """The value as it is read, and beside it what was shown for which exact one."""
    if value is None:
        return {key: ""}
    shown = _spoken(value, dimension, units)
    return {key: shown, f"{key}.exact": f"{shown}|{value!r} {dimension.value}"}


def _spoken(value: float, dimension: Dimension, units: Units) -> str:
    if dimension is Dimension.TIME:
        unit, sign = next(
            (u for u in (("hour", "h"), ("minute", "min")) if value and value % _seconds(u[0]) == 0),
            ("second", "s"),
        )
    else:
        unit, sign = UNITS[dimension][units]
    return f"{registry.Quantity(value, dimension.value).to(unit).magnitude:.{DIGITS}g} {sign}"


def _seconds(unit: str) -> float:
    return {"hour": 3600.0, "minute": 60.0}[unit]


# From the form to a recipe's text


def draft_in(form: Form) -> Draft:
    """As it was typed."""
    count = min(int(form["steps"]) if form["steps"].isascii() and form["steps"].isdigit() else 0, 99)
    steps = tuple(_typed(form, f"s{number}-") for number in range(count))
    air = {key.removeprefix("air-"): form[key] for key in form if key.startswith("air-")}
    return Draft(form["name"], form["title"], form["for_work"], steps, air)


def _typed(form: Form, prefix: str) -> Shown:
    typed = {key.removeprefix(prefix): form[key] for key in form if key.startswith(prefix)}
    return {**typed, "step": typed.get("step", "")}


def text_of(draft: Draft) -> str:
    """The text of a recipe's file, in the shipped way of writing. Raises BadInput with the field of the form."""
    try:
        return write_recipe(read_recipe(_toml(draft), say("The recipe")))
    except BadInput as problem:
        raise _at_its_field(problem, draft) from problem


def _toml(draft: Draft) -> str:
    head = {"name": draft.name or name_from(draft.title), "title": draft.title, "for_work": draft.for_work}
    blocks = [_lines(head)]
    blocks += [["[[steps]]", *_lines(_said(step))] for step in draft.steps]
    for table in ("prime_air", "backup_air"):
        said = {key: _quantity(draft.air, f"{table}-{key}", dimension) for key, (_, dimension) in AIR.items()}
        blocks.append([f"[{table}]", *_lines({key: value for key, value in said.items() if value})])
    return "\n".join(line for block in blocks for line in block) + "\n"


def _said(step: Shown) -> Mapping[str, str | bool]:
    said: dict[str, str | bool] = {"step": step["step"]}
    for key in OF_STEP.get(step["step"], ()):
        value = _quantity(step, key, QUANTITIES[key][1]) if key in QUANTITIES else step.get(key, "")
        if key == "pre_wet":
            said[key] = value == "yes"
        elif value:
            said[key] = value
    return said


def _quantity(shown: Shown, key: str, dimension: Dimension) -> str:
    """The value as typed; where that is still what was shown, the exact one."""
    typed = DECIMAL_COMMA.sub(r"\1.", shown.get(key, "").strip())
    was, _, exact = shown.get(f"{key}.exact", "").partition("|")
    if typed and typed == was:
        return exact
    if dimension is Dimension.TEMPERATURE_DIFFERENCE:
        return SWING.sub(lambda found: f"delta_deg{found[1].upper().replace('K', 'C')}", typed)
    return typed


def _lines(said: Mapping[str, str | bool]) -> list[str]:
    return [
        f"{key} = {json.dumps(value, ensure_ascii=False)}".replace("\x7f", "\\u007f")
        for key, value in said.items()
    ]


PAGES = ("new", "copy")
"""What lies under /recipes and is none: a recipe of that name could never be looked at."""


def name_from(title: str) -> str:
    """A file's name from a title: ``small-wading-bird``."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    name = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-") or "recipe"
    return f"{name}-recipe" if name in PAGES else name


def _at_its_field(problem: BadInput, draft: Draft) -> BadInput:
    """The same words, at the field of the form that they are about."""
    message = problem.message.removeprefix(say("The recipe") + ": ")
    return BadInput(problem.code, _in_words(message, draft), problem.todo, _field(problem))


def _field(problem: ShopError) -> str | None:
    found = PLACE.search(problem.field or "") or (
        PLACE.search(problem.message) if problem.field == "steps" else None
    )
    if found:
        return f"s{int(found[1]) - 1}-{found[2] or 'step'}"
    table, dot, key = (problem.field or "").partition(".")
    return f"air-{table}-{key}" if dot else "title" if table == "name" else problem.field


def _in_words(message: str, draft: Draft) -> str:
    """“Coat 3” for “steps no. 4”: people count coats."""
    return PLACE.sub(lambda found: _called(draft, int(found[1]) - 1, found[2]), message, count=1)


def _called(draft: Draft, at: int, key: str | None) -> str:
    step = step_name(draft.steps, at)
    return say("{step}, {field}", step=step, field=say(LABELS[key])) if key in LABELS else step


def step_name(steps: Sequence[Shown], at: int) -> str:
    """What a step is called above its fields."""
    coats = sum(step["step"] == "coat" for step in steps[: at + 1])
    if not 0 <= at < len(steps) or steps[at]["step"] == "final dry":
        return say("Final dry")
    return (
        say("Wires on coat {number}", number=coats)
        if steps[at]["step"] != "coat"
        else say("Coat {number}", number=coats)
    )


LABELS = {
    "kind": later("Kind of coat"),
    "tank": later("Tank"),
    "slurry": later("Slurry"),
    "stucco": later("Stucco"),
    "thickness": later("Thickness"),
    "least_wait": later("Least wait"),
    "longest_wait": later("Longest wait"),
    "ready_saturation": later("Ready when as full of water as"),
    "immersion": later("Time in the tank"),
    "porosity": later("Pores in the dry coat"),
    "dry_density": later("Density of the dry coat"),
    "pre_wet": later("Pre-wet before it"),
    "where": later("Where the wires go"),
    "water_limit": later("Water left, by weight"),
    "lowest_temperature": later("Lowest temperature"),
    "highest_temperature": later("Highest temperature"),
    "lowest_humidity": later("Lowest humidity"),
    "highest_humidity": later("Highest humidity"),
    "largest_swing": later("Largest swing"),
}
