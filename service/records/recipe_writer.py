"""A recipe written as TOML that reads back just the same."""

from __future__ import annotations

import json
from collections.abc import Iterator

from service.records.recipe_lines import AirLines, CoatLines, FinalDryLines, Lines, WireLines
from service.records.recipes import CoatStep, FinalDryStep, Part, Recipe, WireStep
from service.units import Dimension, parse, registry

LINES: dict[type[Part], type[Lines]] = {CoatStep: CoatLines, WireStep: WireLines, FinalDryStep: FinalDryLines}

SPOKEN = {
    Dimension.LENGTH: ("mm",),
    Dimension.TIME: ("h", "min", "s"),
    Dimension.DENSITY: ("kg/m**3",),
    Dimension.TEMPERATURE: ("degC",),
    Dimension.TEMPERATURE_DIFFERENCE: ("delta_degC",),
    Dimension.FRACTION: ("%",),
}
DIMENSIONS = {
    "_m": Dimension.LENGTH,
    "_s": Dimension.TIME,
    "_kg_m3": Dimension.DENSITY,
    "temperature_k": Dimension.TEMPERATURE,
    "swing_k": Dimension.TEMPERATURE_DIFFERENCE,
    "humidity": Dimension.FRACTION,
    "porosity": Dimension.FRACTION,
    "saturation": Dimension.FRACTION,
    "water_limit": Dimension.FRACTION,
}


def write_recipe(recipe: Recipe) -> str:
    """The recipe as TOML that `read_recipe` reads back just the same. What is as usual is left out."""
    head = [f"{key} = {_text(value)}" for key, value in _head(recipe).items() if value]
    steps = [["[[steps]]", *_lines(step, LINES[type(step)])] for step in recipe.steps]
    airs = [
        [f"[{table}]", *lines]
        for table, air in (("prime_air", recipe.prime_air), ("backup_air", recipe.backup_air))
        if (lines := list(_lines(air, AirLines)))
    ]
    return "\n\n".join("\n".join(block) for block in [head, *steps, *airs]) + "\n"


def _head(recipe: Recipe) -> dict[str, str]:
    return {"name": recipe.name, "title": recipe.title, "for_work": recipe.for_work}


def _lines(part: Part, lines: type[Lines]) -> Iterator[str]:
    for name, field in lines.model_fields.items():
        value = getattr(part, name)
        if name == "step" or field.is_required() or value != field.default:
            yield f"{field.alias or name} = {_value(name, value)}"


def _value(name: str, value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float | int):
        dimension = next((d for end, d in DIMENSIONS.items() if name.endswith(end)), None)
        return _quantity(float(value), dimension) if dimension else repr(value)
    return _text(str(value))


def _quantity(value: float, dimension: Dimension) -> str:
    """The text with the shortest number that reads back as exactly this value."""
    spoken = (f"{_in_unit(value, dimension, unit):.9g} {unit}" for unit in SPOKEN[dimension])
    exact = [text for text in spoken if parse(text, dimension) == value]
    if not exact and dimension is Dimension.FRACTION:
        return repr(value)  # a share may stand as a plain number
    short = min(exact, key=lambda text: text.index(" "), default=f"{value!r} {dimension.value}")
    return _text(short)


def _in_unit(value: float, dimension: Dimension, unit: str) -> float:
    return float(registry.Quantity(value, dimension.value).to(unit.replace("%", "percent")).magnitude)


def _text(text: str) -> str:
    """A TOML basic string: JSON's escapes are TOML's, but for DEL, which TOML wants escaped too."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
