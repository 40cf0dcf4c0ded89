"""The form of a tank's check: fields to a `TankCheckBody` and back."""

from __future__ import annotations

from pydantic import ValidationError

from api.asked import Form
from api.problem_words import told
from service.errors import BadInput
from service.records.facts import TankCheckBody
from service.records.shop_facts import Site
from service.units import Dimension, Units, water_mass
from service.voice import say
from service.words.numbers import bare_temperature, units_of

TEMPERATURE_UNITS = ("°C", "°F")
DENSITY_UNITS = ("g/cm³", "kg/m³", "lb/gal")
WATER_UNITS = ("litre", "ml", "kg", "g", "lb", "oz")


def body_of(form: Form) -> TankCheckBody:
    """What the form says. Raises BadInput naming the field."""
    tank = form["tank_other"] or form.need("tank", say("Tank"))
    flow_s = form.quantity("flow", Dimension.TIME)
    said = {
        "tank": tank,
        "flow_s": flow_s,
        "temperature_k": form.quantity("temperature", Dimension.TEMPERATURE),
        "density_kg_m3": form.quantity("density", Dimension.DENSITY),
        "ph": _ph(form),
        "water_added_kg": _water_kg(form),
        "made_new": bool(form["made_new"]),
        "text": form["text"],
    }
    try:
        return TankCheckBody.model_validate(said)
    except ValidationError as error:
        raise told(error.errors()[0]) from error


def _ph(form: Form) -> float | None:
    text = form["ph"].replace(",", ".")
    try:
        return float(text) if text else None
    except ValueError as error:
        raise BadInput(
            "not_a_number",
            say("“{text}” is not a number.", text=form["ph"]),
            say("Write the pH as one, such as 9.6."),
            "ph",
        ) from error


def _water_kg(form: Form) -> float | None:
    text = form["water_added"].replace(",", ".")
    if not text:
        return None
    whole = any(letter.isalpha() for letter in text)
    return water_mass(text if whole else f"{text} {form['water_added_unit']}", "water_added")


def fields_of(body: TankCheckBody, site: Site | None) -> Form:
    """The form filled in from what was recorded."""
    us = units_of(site) is Units.US
    return Form(
        {
            "tank": body.tank,
            "flow": f"{body.flow_s:g}" if body.flow_s is not None else "",
            "flow_unit": "s",
            "temperature": "" if body.temperature_k is None else bare_temperature(body.temperature_k, site),
            "temperature_unit": "°F" if us else "°C",
            "density": f"{body.density_kg_m3:.10g}" if body.density_kg_m3 is not None else "",
            "density_unit": "kg/m³",
            "ph": f"{body.ph:g}" if body.ph is not None else "",
            "water_added": f"{body.water_added_kg:.6g}" if body.water_added_kg is not None else "",
            "water_added_unit": "kg",
            "made_new": "yes" if body.made_new else "",
            "text": body.text,
        }
    )
