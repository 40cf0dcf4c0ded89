"""TOML files read into pydantic models, every mistake told in the words of the person who wrote the file."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from functools import partial
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, TypeVar, get_args, get_origin

from pydantic import BaseModel, BeforeValidator, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from service.errors import BadInput, ShopError
from service.units import SHOWN, Dimension, parse, registry, show
from service.voice import say

Model = TypeVar("Model", bound=BaseModel)
Place = tuple[int | str, ...]

SECRETS = {"shop_key", "password", "database", "people", "places", "ways", "send_to"}
"""Keys whose values are repeated in no error: they hold passwords, or addresses that anybody could send to."""
DAY_S = 86400.0
LIMITS = ("gt", "ge", "lt", "le", "min_length", "max_length")


def read_toml(path: Path | Traversable, model: type[Model]) -> Model:
    """Read a TOML file as `model`.

    Raises BadInput naming the file, the key, what is wrong and what to do: not there, not TOML, unknown key
    (with the nearest known one), missing key, wrong type, wrong unit, out of bounds.
    """
    return check_data(load_toml(path), path.name, model)


def load_toml(path: Path | Traversable) -> dict[str, Any]:
    """The file's tables as they stand. Raises BadInput when it is not there or not TOML."""
    return parse_toml(read_text(path), path.name)


def parse_toml(text: str, name: str) -> dict[str, Any]:
    """TOML text as tables; `name` is the file named in an error."""
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        raise BadInput(
            "toml_syntax",
            say("{name} is nested too deep to be read.", name=name),
            say("One list inside another is enough."),
        ) from error
    except tomllib.TOMLDecodeError as error:
        raise BadInput(
            "toml_syntax",
            say("{name} cannot be read as TOML: {lower}.", name=name, lower=_lower(str(error))),
            say("Put that line right: one key = value a line, text and values with units in quotes."),
        ) from error


def check_data(data: Mapping[str, Any], name: str, model: type[Model]) -> Model:
    """Check tables against `model`; `name` is the file named in an error. Errors as in `read_toml`."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        raise _told(error, name, model, data) from error


def check_entry(data: Mapping[str, Any], model: type[Model]) -> Model:
    """The same for what stands in no file: the words name none, and `field` is the key, such as ``ways.1.send_to``."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        problem = error.errors()[0]
        code, message, todo = _explain(problem, model, data)
        field = ".".join(map(str, _keys_only(model, problem["loc"])))
        raise BadInput(code, message[:1].upper() + message[1:], todo, field or None) from error


def key_list(model: type[BaseModel], before: str = "") -> list[str]:
    """Every key a file of this model may hold, dotted: ``["server.host", "server.port", ...]``."""
    keys = []
    for key, annotation in _fields(model):
        inner = list(_models(annotation))
        if inner:
            keys += [k for m in inner for k in key_list(m, f"{before}{key}.")]
        else:
            keys.append(before + key)
    return list(dict.fromkeys(keys))


def nearest(word: str, known: list[str]) -> str:
    """A sentence that points from a mistyped word to what was probably meant."""
    close = difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.6)
    if close:
        return say("Did you mean “{close}”?", close=close[0])
    return say("It can be: {words}.", words=", ".join(known))


def read_text(path: Path | Traversable) -> str:
    """A text file. Raises BadInput when it is not there, not readable or not text."""
    try:
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError as error:
        raise BadInput(
            "file_missing", say("There is no file {path}.", path=path), say("Check the name and the folder.")
        ) from error
    except UnicodeDecodeError as error:
        raise BadInput(
            "file_not_text",
            say("{path} is not a text file.", path=path.name),
            say("Save it as plain text (UTF-8)."),
        ) from error
    except OSError as error:
        raise BadInput(
            "file_unreadable",
            say("{path} cannot be read: {strerror}.", path=path, strerror=error.strerror),
            say("Check that it is a file you may read."),
        ) from error


def _told(error: ValidationError, name: str, model: type[BaseModel], data: Mapping[str, Any]) -> BadInput:
    problems = error.errors()
    # An unknown key is usually a mistyped one: it explains the missing key beside it, so it is told first.
    first = next((p for p in problems if p["type"] == "extra_forbidden"), problems[0])
    code, message, todo = _explain(first, model, data)
    key = place(_keys_only(model, first["loc"]))
    if len(problems) > 1:
        more = say("({number} more to put right after it.)", number=len(problems) - 1)
        todo = f"{todo} {more}"
    message = ": ".join(part for part in (name, key, message) if part)
    return BadInput(code, message, todo, key or None)


def place(loc: Place) -> str:
    """Where in the file: ``"coats no. 3, thickness"``; entries count from 1."""
    words = ""
    for part in loc:
        if isinstance(part, int):
            words += f" no. {part + 1},"
        else:
            words += (" " if words.endswith(",") else "." if words else "") + part
    return words.rstrip(",")


def _explain(problem: ErrorDetails, model: type[BaseModel], data: Mapping[str, Any]) -> tuple[str, str, str]:
    """Code, message and what to do, for one of pydantic's complaints."""
    kind, context, loc = problem["type"], problem.get("ctx", {}), problem["loc"]
    key = str(loc[-1]) if loc else ""
    cause = context.get("error")
    if isinstance(cause, ShopError):
        return cause.code, cause.message, cause.todo
    if kind == "extra_forbidden":
        return "key_unknown", say("there is no such key."), nearest(key, _known(model, loc[:-1]))
    field = _field_at(model, loc)
    example = str(field.examples[0]) if field and field.examples else ""
    if kind == "missing":
        return "key_missing", say("it is missing."), _how_to_add(key, field, example)
    message, todo = _words(kind, _limit(context, field), context, example)
    return "value_wrong", f"{_given(data, loc)}{message or _lower(problem['msg'])}.", todo


def _how_to_add(key: str, field: FieldInfo | None, example: str) -> str:
    if field and any(_models(field.annotation)):
        many = get_origin(field.annotation) in (list, tuple)
        table = f"[[{key}]]" if many else f"[{key}]"
        return say("Add a table {table}.", table=table)
    return say("Add a line “{key} = {example}”.", key=key, example=example or "…")


def of_length(limit: object) -> dict[str, tuple[str, str]]:
    """What is wrong and what to do where there is too little or too much of something, by pydantic's kinds."""
    return {
        "string_too_short": (
            say("must have at least {limit} letters", limit=limit),
            say("Write a longer one."),
        ),
        "string_too_long": (
            say("must have at most {limit} letters", limit=limit),
            say("Write a shorter one."),
        ),
        "too_short": (say("needs at least {limit}", limit=limit), say("Add what is missing.")),
        "too_long": (say("takes at most {limit}", limit=limit), say("Take some out.")),
    }


def _words(kind: str, limit: str, context: Mapping[str, Any], example: str) -> tuple[str, str]:
    """What is wrong and what to do for a kind of pydantic complaint; no message where none is needed here."""
    whole = (say("is not a whole number"), say("Write a whole number without quotes."))
    number = (say("is not a number"), say("Write a number without quotes."))
    boolean = (say("is neither true nor false"), say("Write true or false without quotes."))
    example = example or say("the shipped one")
    word = (
        say("is not one of the words known here"),
        say("It can be: {words}.", words=context.get("expected")),
    )
    time_of_day = (say("is not a time of day"), say("Write it in quotes, like {example}.", example=example))
    many = (say("must be a list"), say("Put the values between [ and ]."))
    table = (say("must be a table of its own"), say("Start it with a line [name], its keys under it."))
    words = {
        "int_type": whole,
        "int_parsing": whole,
        "int_from_float": whole,
        "float_type": number,
        "float_parsing": number,
        "finite_number": (say("is not a usable number"), say("Write a plain number.")),
        "bool_type": boolean,
        "bool_parsing": boolean,
        "string_type": (say("is not text"), say("Write it in quotes.")),
        "path_type": (say("is not the name of a file or folder"), say("Write it in quotes.")),
        "string_pattern_mismatch": (
            say("is not written as it must be"),
            say("Write it like {example}.", example=example),
        ),
        "time_type": time_of_day,
        "time_parsing": time_of_day,
        "greater_than": (
            say("is too small: it must be more than {limit}", limit=limit),
            say("Choose a larger value."),
        ),
        "greater_than_equal": (
            say("is too small: it must be at least {limit}", limit=limit),
            say("Choose a larger value."),
        ),
        "less_than": (
            say("is too large: it must be less than {limit}", limit=limit),
            say("Choose a smaller value."),
        ),
        "less_than_equal": (
            say("is too large: it must be at most {limit}", limit=limit),
            say("Choose a smaller value."),
        ),
        "literal_error": word,
        "enum": word,
        **of_length(limit),
        "list_type": many,
        "tuple_type": many,
        "model_type": table,
        "dict_type": table,
    }
    return words.get(kind, ("", say("Look at the example in the shipped file.")))


def _limit(context: Mapping[str, Any], field: FieldInfo | None) -> str:
    """The limit that was passed, with the unit it is in."""
    number = next((context[k] for k in LIMITS if k in context), "")
    dimension = dimension_of(field) if field else None
    if dimension is None or not isinstance(number, int | float):
        return str(number)
    if dimension is Dimension.FRACTION:
        return f"{100 * number:g} %"
    if dimension is Dimension.LENGTH:  # from a coat's thickness to a hill's height
        return f"{number:g} m" if number >= 1.0 else f"{1000 * number:g} mm"
    if dimension is Dimension.TIME and number >= DAY_S:
        return f"{number / DAY_S:g} d"
    if dimension is Dimension.DATA_SIZE:
        return f"{number / 1e9:g} GB" if number >= 1e9 else f"{number / 1e6:g} MB"
    if dimension in SHOWN:
        return show(number, dimension)
    return f"{registry.Quantity(number, dimension.value):g~P}"


def dimension_of(field: FieldInfo) -> Dimension | None:
    """The dimension a field's text is read in, if it is a quantity with a unit."""
    return _dimension((field.annotation, *field.metadata))


def _dimension(parts: Iterable[Any]) -> Dimension | None:
    """The dimension a field's text is read in, if it is a quantity with a unit; looks into ``X | None`` too."""
    for part in parts:
        if isinstance(part, BeforeValidator) and isinstance(part.func, partial) and part.func.func is parse:
            return Dimension(part.func.keywords["dimension"])
        inside = _dimension((*get_args(part), *getattr(part, "__metadata__", ())))
        if inside is not None:
            return inside
    return None


def _given(data: Any, loc: Place) -> str:
    """What stands at `loc` in the file, quoted; nothing for a table, a list or a secret."""
    here = data
    for step in loc:
        if isinstance(here, Mapping) and step in here:
            here = here[str(step)]
        elif isinstance(here, list) and isinstance(step, int):
            here = here[step]
    key = next((step for step in reversed(loc) if isinstance(step, str)), "")
    if isinstance(here, Mapping | list) or key in SECRETS:
        return ""
    return f"“{here}” "


def _fields(model: type[BaseModel]) -> Iterator[tuple[str, Any]]:
    for name, field in model.model_fields.items():
        yield field.alias or name, field.annotation


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    """The models inside an annotation such as ``tuple[Coat | Wire, ...] | None``."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models(inner)


def _at(model: type[BaseModel], loc: Place) -> list[type[BaseModel]]:
    """The models that may stand at `loc`. A step that is no key (list index, union tag) stays in place."""
    here = [model]
    for step in loc:
        inner = [
            m for h in here for key, annotation in _fields(h) if key == step for m in _models(annotation)
        ]
        here = inner or here
    return here


def _keys_only(model: type[BaseModel], loc: Place) -> Place:
    """`loc` without what pydantic puts in to say which member of a union it tried."""
    kept = [
        step
        for i, step in enumerate(loc)
        if isinstance(step, int) or i == len(loc) - 1 or step in _known(model, loc[:i])
    ]
    return tuple(kept)


def _known(model: type[BaseModel], loc: Place) -> list[str]:
    return list(dict.fromkeys(key for m in _at(model, loc) for key, _ in _fields(m)))


def _field_at(model: type[BaseModel], loc: Place) -> FieldInfo | None:
    for owner in _at(model, loc[:-1]):
        for name, field in owner.model_fields.items():
            if loc and (field.alias or name) == loc[-1]:
                return field
    return None


def _lower(text: str) -> str:
    text = text.rstrip(".")
    return text[:1].lower() + text[1:]
