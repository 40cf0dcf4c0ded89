"""The forms for tanks and hooks, as a shop sets them up."""

from __future__ import annotations

from pydantic import ValidationError

from api.asked import Form
from api.problem_words import told
from service.errors import BadInput
from service.room.fittings import HookSetUp, TankSetUp
from service.units import SHOWN, Dimension, Units, registry
from service.voice import say

LIMITS = {"temperature": Dimension.TEMPERATURE, "density": Dimension.DENSITY}
SUFFIX = {"flow": "_s", "temperature": "_k", "density": "_kg_m3", "ph": ""}
"""How a form's fields are called in what is kept."""


def tank_of(form: Form) -> TankSetUp:
    """What the form says. Raises BadInput naming the field."""
    limits = {
        f"{end}_{name}{suffix}": _limit(form, f"{end}_{name}", name)
        for name, suffix in SUFFIX.items()
        for end in ("least", "most")
    }
    said = {
        "slurry": form["slurry"],
        "note": form["note"],
        "out_of_use": bool(form["out_of_use"]),
        **limits,
    }
    try:
        return TankSetUp.model_validate(said)
    except ValidationError as error:
        problem = told(error.errors()[0])
        problem.field = field_of(problem.field)
        raise problem from error


def fields_of_tank(name: str, tank: TankSetUp, units: Units) -> Form:
    """The form filled in with what holds."""
    limits = {
        key: text
        for field, suffix in SUFFIX.items()
        for end in ("least", "most")
        for key, text in _shown(
            f"{end}_{field}", getattr(tank, f"{end}_{field}{suffix}"), field, units
        ).items()
    }
    yes = "yes" if tank.out_of_use else ""
    return Form({"name": name, "slurry": tank.slurry, "note": tank.note, "out_of_use": yes, **limits})


def field_of(name: str | None) -> str | None:
    """What the form calls it."""
    return name and name.removesuffix("_s").removesuffix("_k").removesuffix("_kg_m3")


def hook_of(form: Form, order: int) -> HookSetUp:
    """What the form says. Raises BadInput naming the field."""
    room = form.whole("room_id", say("Room"))
    if len(form["note"]) > 300:
        raise BadInput("note_too_long", say("The note is too long."), say("Write a shorter one."), "note")
    return HookSetUp(room_id=room, note=form["note"], out_of_use=bool(form["out_of_use"]), order=order)


def _limit(form: Form, field: str, name: str) -> float | None:
    if name == "flow":
        return form.quantity(field, Dimension.TIME)
    if name in LIMITS:
        return form.quantity(field, LIMITS[name])
    text = form[field].replace(",", ".")
    try:
        return float(text) if text else None
    except ValueError as error:
        raise BadInput(
            "not_a_number",
            say("“{text}” is not a number.", text=form[field]),
            say("Write the pH as one, such as 9.6."),
            field,
        ) from error


def _shown(key: str, value: float | None, name: str, units: Units) -> dict[str, str]:
    if value is None:
        return {key: ""}
    if name not in LIMITS:
        return {key: f"{value:g}"}
    unit, sign, _ = SHOWN[LIMITS[name]][units]
    magnitude = registry.Quantity(value, LIMITS[name].value).to(unit).magnitude
    return {key: f"{round(magnitude, 6):g}", f"{key}_unit": sign}
