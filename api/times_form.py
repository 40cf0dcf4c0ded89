"""The form of one table of alerts.toml: fields to what the file would hold, and back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from api.asked import Form
from api.telling_words import length_of
from service.alerts.kinds import Kind
from service.alerts.tables import Value
from service.units import SHOWN, Dimension, Units, registry, with_decimals

TIMES = (("s", "s"), ("min", "min"), ("h", "h"), ("d", "d"))
NO_QUIET_HOURS = "no_quiet_hours"


def units_for(dimension: Dimension, units: Units) -> Sequence[tuple[str, str]]:
    """The units to choose from, as they are written and as they are shown; the usual one first."""
    if dimension is Dimension.TIME:
        return TIMES
    usual = [units, *(each for each in Units if each is not units)]
    return list(dict.fromkeys((SHOWN[dimension][each][:2]) for each in usual))


def kind_of(value: Value) -> str:
    """What field a value needs."""
    if value.dimension is not None:
        return "quantity"
    kinds = {"from": "clock", "until": "clock", "urgent": "kinds", "on": "tick", "contact": "text"}
    return kinds.get(value.key, "whole")


def fields_of(values: Sequence[Value], units: Units) -> Form:
    """The form filled in with what holds now."""
    filled: dict[str, str] = {}
    for value in values:
        filled |= _fields(value, units)
    if any(v.key == "from" and v.here and v.now is None for v in values):
        filled[NO_QUIET_HOURS] = "yes"
    return Form(filled)


def said_of(form: Form, values: Sequence[Value]) -> dict[str, Any]:
    """What the form says; what is empty is left out, so that it goes back to what it was."""
    if form[NO_QUIET_HOURS]:
        form = Form({**form, "from": "", "until": ""})
    said = {value.key: _said(form, value) for value in values}
    none = {"from": None, "until": None} if form[NO_QUIET_HOURS] else {}
    return {key: each for key, each in said.items() if each is not None} | none


def _fields(value: Value, units: Units) -> dict[str, str]:
    now = value.now
    if kind_of(value) == "kinds":
        return {f"kind_{kind.name}": "yes" for kind in Kind if kind in now}
    if kind_of(value) == "tick":
        return {value.key: "yes" if now else "no"}
    if now is None and value.dimension is not None:
        return {value.key: "", f"{value.key}_unit": units_for(value.dimension, units)[0][0]}
    if now is None:
        return {value.key: ""}
    if value.dimension is None:
        return {value.key: f"{now:%H:%M}" if kind_of(value) == "clock" else str(now)}
    number, unit = _number(now, value.dimension, units)
    return {value.key: number, f"{value.key}_unit": unit}


def _number(value: float, dimension: Dimension, units: Units) -> tuple[str, str]:
    if dimension is Dimension.TIME:
        return length_of(value)
    unit = SHOWN[dimension][units][0]
    magnitude = registry.Quantity(value, dimension.value).to(unit).magnitude
    return f"{round(magnitude, 6):g}", unit


def _said(form: Form, value: Value) -> Any:
    text = form[value.key]
    if kind_of(value) == "kinds":
        return [kind.value for kind in Kind if form[f"kind_{kind.name}"]]
    if kind_of(value) == "tick":
        return text == "yes"
    if not text:
        return None
    if kind_of(value) == "whole":
        return form.whole(value.key, value.key)
    return _with_unit(form, value) if value.dimension is not None else text


def _with_unit(form: Form, value: Value) -> str:
    """As it was written, with the unit beside it where it names none."""
    text = with_decimals(form[value.key].replace(",", "."))
    named = any(letter.isalpha() or letter in "°%" for letter in text)
    return text if named else f"{text} {form[f'{value.key}_unit']}"
