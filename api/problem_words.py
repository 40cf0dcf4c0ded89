"""What is wrong with a JSON request, in words: pydantic's complaints translated."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from service.errors import BadInput, ShopError
from service.toml_files import of_length
from service.voice import later, say

LENGTHS = {"height", "width", "depth", "mouth"}
MASSES = {"mass", "wax_mass", "water_added"}
CALLED = {"flow_s": "flow", "temperature_k": "temperature", "density_kg_m3": "density"}
"""Fields whose unit is in the ledger's name and not in the form's."""
NAMED = {
    "path": later("the address"),
    "query": later("the address"),
    "header": later("the headers"),
    "body": later("the request"),
}


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
    place = say(NAMED.get(str(problem["loc"][0]) if problem["loc"] else "", NAMED["body"]))
    if kind == "missing" and not field:
        return (
            "body_missing",
            say("The request is empty."),
            say("Send a JSON object; /api/docs shows an example."),
        )
    if kind == "missing":
        return (
            "field_missing",
            say("“{field}” is missing from {place}.", field=field, place=place),
            say("Add it; /api/docs shows an example."),
        )
    if kind == "extra_forbidden":
        return (
            "field_unknown",
            say("“{field}” is not known here.", field=field),
            say("Check its spelling against /api/docs, or leave it out."),
        )
    if kind == "json_invalid":
        return "json_unreadable", say("The request is not readable JSON."), say("Check quotes and commas.")
    if kind in ("model_attributes_type", "model_type", "dict_type"):
        return (
            "not_an_object",
            say("The request is not a JSON object."),
            say("Send one, with content type application/json."),
        )
    measured = field.rpartition(".")[2]
    wrong, todo = _value(kind, {k: _shown(v, measured) for k, v in problem.get("ctx", {}).items()})
    given = problem.get("input")
    if isinstance(given, str | int | float):
        what = say("“{value}” in “{field}”", value=_shown(given, measured), field=field)
    else:
        what = f"“{field}”"
    return "value_wrong", f"{what} {wrong}.", todo


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
        "int_type": (say("is not a whole number"), say("Write a whole number.")),
        "int_parsing": (say("is not a whole number"), say("Write a whole number.")),
        "int_from_float": (say("is not a whole number"), say("Write a whole number.")),
        "float_type": (say("is not a number"), say("Write a number.")),
        "float_parsing": (say("is not a number"), say("Write a number.")),
        "finite_number": (say("is not a usable number"), say("Write a plain number.")),
        "bool_type": (say("is neither true nor false"), say("Write true or false.")),
        "bool_parsing": (say("is neither true nor false"), say("Write true or false.")),
        "string_type": (say("is not text"), say("Write it in quotes.")),
        **of_length(limit),
        "greater_than": (say("must be more than {limit}", limit=limit), say("Choose a larger value.")),
        "greater_than_equal": (say("must be at least {limit}", limit=limit), say("Choose a larger value.")),
        "less_than": (say("must be less than {limit}", limit=limit), say("Choose a smaller value.")),
        "less_than_equal": (say("must be at most {limit}", limit=limit), say("Choose a smaller value.")),
        "literal_error": (
            say("is not one of the words known here"),
            say("It can be {words}.", words=context.get("expected")),
        ),
        "enum": (
            say("is not one of the words known here"),
            say("It can be {words}.", words=context.get("expected")),
        ),
        "union_tag_invalid": (
            say("is not of a known kind"),
            say("It can be {words}.", words=context.get("expected_tags")),
        ),
        "union_tag_not_found": (say("says not what kind it is"), say("Add “kind”.")),
        "timezone_aware": (say("has no time zone"), say("Write it like 2025-12-12T14:20:00+00:00.")),
        "datetime_parsing": (say("is not a date and time"), say("Write it like 2025-12-12T14:20:00+00:00.")),
        "datetime_from_date_parsing": (
            say("is not a date and time"),
            say("Write it like 2025-12-12T14:20:00+00:00."),
        ),
        "datetime_type": (say("is not a date and time"), say("Write it like 2025-12-12T14:20:00+00:00.")),
        "list_type": (say("is not a list"), say("Put the values between [ and ].")),
        "tuple_type": (say("is not a list"), say("Put the values between [ and ].")),
    }
    return table.get(kind, (say("cannot be used"), say("Look at the example in /api/docs.")))
