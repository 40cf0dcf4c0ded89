"""The form that hangs up a mould or changes what is known of it: fields to a `MouldBody` and back."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from pydantic import ValidationError

from api.asked import Form
from api.problem_words import told
from api.times import from_clock
from service.clock import Clock
from service.errors import BadInput
from service.local_time import local
from service.records.facts import MouldBody, Zone, ZoneKind
from service.records.recipes import Recipe
from service.records.shop_facts import Site
from service.units import Dimension, Units, registry

Made = TypeVar("Made", MouldBody, Zone)
MOST_ZONES = 12
LENGTH_UNITS = ("mm", "cm", "m", "in", "ft")
MASS_UNITS = ("kg", "g", "lb", "oz")
KIND_WORDS = {
    ZoneKind.OPEN_FACE: "open face: air reaches all of it",
    ZoneKind.FLAT_PANEL: "flat panel",
    ZoneKind.POCKET: "pocket: a hollow where air hardly moves",
}


def zone_count(form: Form) -> int:
    """How many zones the form holds, from 1 to 12, after a press on its add or remove button."""
    try:
        count = int(form["zones"] or "1")
    except ValueError:
        count = 1
    return min(max(count + ("add_zone" in form) - ("remove_zone" in form), 1), MOST_ZONES)


def body_of(form: Form, recipe: Recipe, site: Site | None, clock: Clock) -> MouldBody:
    """What the form says. Raises BadInput naming the field."""
    wanted = from_clock(form["wanted_by"], site, clock.now(), "wanted_by") if form["wanted_by"] else None
    return _checked(
        lambda: MouldBody(
            name=form.need("name", "Name"),
            piece=form["piece"],
            customer=form["customer"],
            height_m=form.quantity("height", Dimension.LENGTH),
            width_m=form.quantity("width", Dimension.LENGTH),
            wax_mass_kg=form.quantity("wax_mass", Dimension.MASS),
            hook=form["hook"],
            room_id=form.whole("room_id", "Room"),
            wanted_by=wanted,
            zones=tuple(_zone(form, i) for i in range(zone_count(form))),
            recipe=recipe,
        )
    )


def _zone(form: Form, i: int) -> Zone:
    kind = form[f"zone{i}_kind"] or ZoneKind.OPEN_FACE
    pocket = kind == ZoneKind.POCKET
    place = f"of place {i + 1}"
    height, width = (_needed(form, f"zone{i}_{name}", f"{name} {place}") for name in ("height", "width"))
    depth, mouth = (
        _needed(form, f"zone{i}_{name}", f"{name} of the pocket, place {i + 1}") if pocket else None
        for name in ("depth", "mouth")
    )
    return _checked(
        lambda: Zone.model_validate(
            {
                "name": form.need(f"zone{i}_name", f"Name {place}"),
                "kind": kind,
                "height_m": height,
                "width_m": width,
                "depth_m": depth,
                "mouth_m": mouth,
                "slot": pocket and bool(form[f"zone{i}_slot"]),
            }
        ),
        f"zone{i}_",
    )


def _needed(form: Form, field: str, label: str) -> float | None:
    form.need(field, label.capitalize())
    return form.quantity(field, Dimension.LENGTH)


def _checked(make: Callable[[], Made], prefix: str = "") -> Made:
    """What `make` gives; pydantic's complaint as one in words, pointing to the form's field."""
    try:
        return make()
    except ValidationError as error:
        problem = told(error.errors()[0])
        field = prefix + (problem.field or "")
        raise BadInput(problem.code, problem.message, problem.todo, field) from error


def fields_of(body: MouldBody, site: Site | None) -> Form:
    """The form filled in from what is known."""
    fields = {
        "name": body.name,
        "piece": body.piece,
        "customer": body.customer,
        "hook": body.hook,
        "room_id": str(body.room_id),
        "recipe": body.recipe.name,
        "zones": str(len(body.zones)),
        "wanted_by": f"{local(body.wanted_by, site):%Y-%m-%dT%H:%M}" if body.wanted_by else "",
        **_lengths("", {"height": body.height_m, "width": body.width_m}, site),
    }
    if body.wax_mass_kg is not None:
        fields |= _amount("wax_mass", body.wax_mass_kg, "kilogram", mass_unit(site))
    for i, zone in enumerate(body.zones):
        fields |= _zone_fields(i, zone, site)
    return Form(fields)


def _zone_fields(i: int, zone: Zone, site: Site | None) -> dict[str, str]:
    sizes = {"height": zone.height_m, "width": zone.width_m, "depth": zone.depth_m, "mouth": zone.mouth_m}
    return {
        f"zone{i}_name": zone.name,
        f"zone{i}_kind": zone.kind,
        f"zone{i}_slot": "yes" if zone.slot else "",
        **_lengths(f"zone{i}_", sizes, site),
    }


def _lengths(prefix: str, sizes: dict[str, float | None], site: Site | None) -> dict[str, str]:
    found: dict[str, str] = {}
    for name, metres in sizes.items():
        if metres is not None:
            found |= _amount(prefix + name, metres, "meter", length_unit(site))
    return found


def _amount(field: str, value: float, si: str, unit: str) -> dict[str, str]:
    """Enough digits that reading it back changes nothing."""
    number = registry.Quantity(value, si).to(unit).magnitude
    return {field: f"{number:.9g}", f"{field}_unit": unit}


def length_unit(site: Site | None) -> str:
    return "in" if site and site.units is Units.US else "cm"


def mass_unit(site: Site | None) -> str:
    return "lb" if site and site.units is Units.US else "kg"
