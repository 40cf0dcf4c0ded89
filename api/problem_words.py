"""What is wrong with a JSON request, in words: pydantic's complaints translated."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from service.errors import BadInput, ShopError

LENGTHS = {"height", "width", "depth", "mouth"}
MASSES = {"mass", "wax_mass", "water_added"}
CALLED = {"flow_s": "flow", "temperature_k": "temperature", "density_kg_m3": "density"}
"""Fields whose unit is in the ledger's name and not in the form's."""
NAMED = {"path": "the address", "query": "the address", "header": "the headers", "body": "the request"}


def told(problem: Mapping[str, Any]) -> ShopError:
    """One of pydantic's complaints as a problem a person can put right."""
    cause = problem.get("ctx", {}).get("error")
    field = field_of(problem["loc"])
    if isinstance(cause, ShopError):
        named = CALLED.get(cause.field or "", cause.field)
        return BadInput(cause.code, cause.message, cause.todo, named or field or None)
    code, message, todo = _explain(problem["type"], problem, field)
    return BadInput(code, message, todo, field or None)


def field_of(loc: tuple[int | str, ...]) -> str:
    """Where it stands: ``zones[0].height``, as forms and requests name it. Empty for the request as a whole."""
    words = ""
    for part in loc[1:] if loc and loc[0] in NAMED else loc:
        words += f"[{part}]" if isinstance(part, int) else f".{part}" if words else part
    return CALLED.get(words) or words.removesuffix("_m").removesuffix("_kg")


def _explain(kind: str, problem: Mapping[str, Any], field: str) -> tuple[str, str, str]:
    place = NAMED.get(str(problem["loc"][0]) if problem["loc"] else "", "the request")
    if kind == "missing" and not field:
        return "body_missing", "The request is empty.", "Send a JSON object; /api/docs shows an example."
    if kind == "missing":
        return "field_missing", f"“{field}” is missing from {place}.", "Add it; /api/docs shows an example."
    if kind == "extra_forbidden":
        return (
            "field_unknown",
            f"“{field}” is not known here.",
            "Check its spelling against /api/docs, or leave it out.",
        )
    if kind == "json_invalid":
        return "json_unreadable", "The request is not readable JSON.", "Check quotes and commas."
    if kind in ("model_attributes_type", "model_type", "dict_type"):
        return (
            "not_an_object",
            "The request is not a JSON object.",
            "Send one, with content type application/json.",
        )
    measured = field.rpartition(".")[2]
    wrong, todo = _value(kind, {k: _shown(v, measured) for k, v in problem.get("ctx", {}).items()})
    given = problem.get("input")
    shown = f"“{_shown(given, measured)}” in " if isinstance(given, str | int | float) else ""
    return "value_wrong", f"{shown}“{field}” {wrong}.", todo


def _shown(value: object, measured: str) -> object:
    """A number that is checked in metres or kilograms, with a unit people write; anything else as it is."""
    if not isinstance(value, int | float):
        return value
    if measured in LENGTHS:
        return f"{1000 * value:g} mm" if abs(value) < 1 else f"{value:g} m"
    if measured == "temperature":
        return f"{round(value - 273.15, 6):g} °C"
    if measured == "density":
        return f"{value:g} kg/m3"
    if measured == "flow":
        return f"{value:g} s"
    return f"{value:g} kg" if measured in MASSES else value


def _value(kind: str, context: Mapping[str, Any]) -> tuple[str, str]:
    limit = next(
        (context[k] for k in ("gt", "ge", "lt", "le", "min_length", "max_length") if k in context), ""
    )
    table = {
        "int_type": ("is not a whole number", "Write a whole number."),
        "int_parsing": ("is not a whole number", "Write a whole number."),
        "int_from_float": ("is not a whole number", "Write a whole number."),
        "float_type": ("is not a number", "Write a number."),
        "float_parsing": ("is not a number", "Write a number."),
        "finite_number": ("is not a usable number", "Write a plain number."),
        "bool_type": ("is neither true nor false", "Write true or false."),
        "bool_parsing": ("is neither true nor false", "Write true or false."),
        "string_type": ("is not text", "Write it in quotes."),
        "string_too_short": (f"must have at least {limit} letters", "Write a longer one."),
        "string_too_long": (f"must have at most {limit} letters", "Write a shorter one."),
        "too_short": (f"needs at least {limit}", "Add what is missing."),
        "too_long": (f"takes at most {limit}", "Take some out."),
        "greater_than": (f"must be more than {limit}", "Choose a larger value."),
        "greater_than_equal": (f"must be at least {limit}", "Choose a larger value."),
        "less_than": (f"must be less than {limit}", "Choose a smaller value."),
        "less_than_equal": (f"must be at most {limit}", "Choose a smaller value."),
        "literal_error": ("is not one of the words known here", f"It can be {context.get('expected')}."),
        "enum": ("is not one of the words known here", f"It can be {context.get('expected')}."),
        "union_tag_invalid": ("is not of a known kind", f"It can be {context.get('expected_tags')}."),
        "union_tag_not_found": ("says not what kind it is", "Add “kind”."),
        "timezone_aware": ("has no time zone", "Write it like 2025-12-12T14:20:00+00:00."),
        "datetime_parsing": ("is not a date and time", "Write it like 2025-12-12T14:20:00+00:00."),
        "datetime_from_date_parsing": ("is not a date and time", "Write it like 2025-12-12T14:20:00+00:00."),
        "datetime_type": ("is not a date and time", "Write it like 2025-12-12T14:20:00+00:00."),
        "list_type": ("is not a list", "Put the values between [ and ]."),
        "tuple_type": ("is not a list", "Put the values between [ and ]."),
    }
    return table.get(kind, ("cannot be used", "Look at the example in /api/docs."))
