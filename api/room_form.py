"""The form for what stands in a room."""

from __future__ import annotations

from typing import Any

from api.asked import Form
from service.errors import BadInput
from service.room.room_fittings import MOST_POINTS, RatedPoint, RoomFittings, checked
from service.units import SHOWN, Dimension, Units, registry, water_flow
from service.voice import say

SHOWN_POINTS = 3
"""So many lines for the dehumidifier's plate; more, if there are more."""
QUANTITIES = {
    "volume": ("volume_m3", Dimension.VOLUME),
    "heater_power": ("heater_w", Dimension.POWER),
    "heater_set": ("heater_set_k", Dimension.TEMPERATURE),
    "dehumidifier_power": ("dehumidifier_w", Dimension.POWER),
    "dehumidifier_set": ("dehumidifier_set", Dimension.FRACTION),
    "dehumidifier_frost": ("dehumidifier_frost_k", Dimension.TEMPERATURE),
    "fan_speed": ("fan_m_s", Dimension.SPEED),
    "open_tanks": ("tank_m2", Dimension.AREA),
}
"""The form's fields, and how they are called in what is kept."""
CALLED = {kept: field for field, (kept, _) in QUANTITIES.items()} | {"points": "water_1"}


def fittings_of(form: Form) -> RoomFittings:
    """What the form says. Raises BadInput naming the form's field."""
    try:
        return checked(_said(form))
    except BadInput as problem:
        problem.field = CALLED.get(problem.field or "", problem.field)
        raise


def _said(form: Form) -> dict[str, Any]:
    quantities = {kept: _quantity(form, field, dimension) for field, (kept, dimension) in QUANTITIES.items()}
    said = {kept: value for kept, value in quantities.items() if value is not None}
    if said.get("volume_m3") is None and (size := _size_m3(form)) is not None:
        said["volume_m3"] = size
    if form["air_changes"]:
        said["air_changes_an_hour"] = _number(form, "air_changes")
    if form["people"]:
        said["people"] = form.whole("people", say("People at work there"))
    return {
        **said,
        "heater": form["heater"] or "off",
        "dehumidifier": form["dehumidifier"] or "off",
        "dehumidifier_points": _points(form),
        "fan_on": bool(form["fan_on"]),
    }


def _quantity(form: Form, field: str, dimension: Dimension) -> float | None:
    try:
        return form.quantity(field, dimension)
    except BadInput as problem:
        if dimension is Dimension.VOLUME:
            problem.todo = say("Write it like 146 m3 or 5150 ft3.")
        raise


def _size_m3(form: Form) -> float | None:
    """Length, width and height: all or none."""
    sides = [form.quantity(name, Dimension.LENGTH) for name in ("long", "wide", "high")]
    if all(side is None for side in sides):
        return None
    if any(side is None or side <= 0.0 for side in sides):
        raise BadInput(
            "size_incomplete",
            say("The size of a room takes its length, its width and its height."),
            say("Give all three, or the volume alone."),
            "long",
        )
    return float(sides[0] or 0.0) * float(sides[1] or 0.0) * float(sides[2] or 0.0)


def _points(form: Form) -> list[RatedPoint]:
    found = []
    for number in range(1, MOST_POINTS + 1):
        warm, damp, water = (f"{name}_{number}" for name in ("warm", "damp", "water"))
        if not (form[warm] or form[damp] or form[water]):
            continue
        kelvin = form.quantity(warm, Dimension.TEMPERATURE)
        humidity = form.quantity(damp, Dimension.FRACTION)
        if kelvin is None or humidity is None or not form[water]:
            raise BadInput(
                "point_incomplete",
                say("Each line of the plate takes a temperature, a humidity and the water a day."),
                say("Fill in all three, or leave the line empty."),
                water if not form[water] else warm,
            )
        found.append(_point(kelvin, humidity, _water(form, water), water))
    return found


def _point(kelvin: float, humidity: float, water_kg_s: float, field: str) -> RatedPoint:
    try:
        return checked(
            {
                "dehumidifier_points": [
                    {"temperature_k": kelvin, "humidity": humidity, "water_kg_s": water_kg_s}
                ]
            }
        ).dehumidifier_points[0]
    except BadInput as problem:
        problem.field = field
        raise


def _water(form: Form, field: str) -> float:
    text = form[field].replace(",", ".")
    unit = form[f"{field}_unit"]
    plain = unit and text.replace(".", "", 1).isdecimal()
    return water_flow(f"{text} {unit}" if plain else text, field)


def _number(form: Form, field: str) -> float:
    try:
        return float(form[field].replace(",", "."))
    except ValueError as error:
        raise BadInput(
            "not_a_number", say("“{text}” is not a number.", text=form[field]), say("Write it as one."), field
        ) from error


def fields_of(fittings: RoomFittings, units: Units) -> Form:
    """The form filled in with what holds."""
    fields = {
        "air_changes": "" if fittings.air_changes_an_hour is None else f"{fittings.air_changes_an_hour:g}",
        "people": str(fittings.people or ""),
        "heater": fittings.heater.value,
        "dehumidifier": fittings.dehumidifier.value,
        "fan_on": "yes" if fittings.fan_on else "",
    }
    for field, (kept, dimension) in QUANTITIES.items():
        value = getattr(fittings, kept)
        if value is not None and not (kept == "tank_m2" and not value):
            fields |= _filled(field, value, dimension, units)
    for number, point in enumerate(fittings.dehumidifier_points, 1):
        fields |= _filled(f"warm_{number}", point.temperature_k, Dimension.TEMPERATURE, units)
        fields |= _filled(f"damp_{number}", point.humidity, Dimension.FRACTION, units)
        fields |= {f"water_{number}": f"{86400 * point.water_kg_s:.4g}", f"water_{number}_unit": "kg/day"}
    return Form(fields)


def _filled(field: str, value: float, dimension: Dimension, units: Units) -> dict[str, str]:
    unit, sign, _ = SHOWN[dimension][units]
    magnitude = float(registry.Quantity(value, dimension.value).to(unit).magnitude)
    return {field: f"{round(magnitude, 6):.6g}", f"{field}_unit": sign}
