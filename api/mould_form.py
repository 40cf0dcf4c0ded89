"""The form that hangs up a mould or changes what is known of it: fields to a `MouldBody` and back."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
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
from service.units import Dimension, Units, convert, registry
from service.voice import later, say
from service.words.numbers import units_of

Made = TypeVar("Made", MouldBody, Zone)
MOST_ZONES = 12
LENGTH_UNITS = ("mm", "cm", "m", "in", "ft")
NEAR_M = 5e-5
NEAR_SHARE = 1e-4
"""No wax is measured or weighed nearer than this, so no more digits are shown (our choice)."""
MOST_DECIMALS = 9
MASS_UNITS = ("kg", "g", "lb", "oz")
KIND_WORDS = {
    ZoneKind.OPEN_FACE: later("open face: air reaches all of it"),
    ZoneKind.FLAT_PANEL: later("flat panel"),
    ZoneKind.POCKET: later("pocket: a hollow where air hardly moves"),
}


def zone_count(form: Form) -> int:
    """How many zones the form holds, from 1 to 12, after a press on its add or remove button."""
    try:
        count = int(form["zones"] or "1")
    except ValueError:
        count = 1
    return min(max(count + ("add_zone" in form) - ("remove_zone" in form), 1), MOST_ZONES)


def body_of(
    form: Form, recipe: Recipe, site: Site | None, clock: Clock, known: MouldBody | None = None
) -> MouldBody:
    """What the form says; a size of `known` shown rounded and left alone stays as exact as it was.

    Raises BadInput naming the field.
    """
    sizes = _Sizes(form, _left_alone(form, known, site) if known else {})
    wanted = from_clock(form["wanted_by"], site, clock.now(), "wanted_by") if form["wanted_by"] else None
    return _checked(
        lambda: MouldBody(
            name=form.need("name", say("Name")),
            piece=form["piece"],
            customer=form["customer"],
            height_m=sizes.length("height"),
            width_m=sizes.length("width"),
            wax_mass_kg=sizes.mass("wax_mass"),
            hook=form["hook"],
            room_id=form.whole("room_id", say("Room")),
            wanted_by=wanted,
            zones=tuple(_zone(form, sizes, i) for i in range(zone_count(form))),
            recipe=recipe,
        )
    )


@dataclass(frozen=True)
class _Sizes:
    """The sizes a form holds, by field; `kept` are those nobody changed."""

    form: Form
    kept: Mapping[str, float]

    def length(self, field: str) -> float | None:
        return self.kept.get(field) or self.form.quantity(field, Dimension.LENGTH)

    def mass(self, field: str) -> float | None:
        return self.kept.get(field) or self.form.quantity(field, Dimension.MASS)

    def needed(self, field: str, label: str) -> float | None:
        self.form.need(field, label)
        return self.length(field)


def _left_alone(form: Form, known: MouldBody, site: Site | None) -> dict[str, float]:
    """The sizes whose fields still hold what was shown of them."""
    shown = ((field, value, _amount(field, value, what, site)) for field, value, what in _known_sizes(known))
    return {field: value for field, value, texts in shown if all(form[f] == t for f, t in texts.items())}


def _zone(form: Form, sizes: _Sizes, i: int) -> Zone:
    kind = form[f"zone{i}_kind"] or ZoneKind.OPEN_FACE
    pocket = kind == ZoneKind.POCKET
    place = i + 1
    height = sizes.needed(f"zone{i}_height", say("Height of place {place}", place=place))
    width = sizes.needed(f"zone{i}_width", say("Width of place {place}", place=place))
    depth, mouth = _pocket(sizes, i) if pocket else (None, None)
    return _checked(
        lambda: Zone.model_validate(
            {
                "name": form.need(f"zone{i}_name", say("Name of place {place}", place=place)),
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


def _pocket(sizes: _Sizes, i: int) -> tuple[float | None, float | None]:
    """Its depth, and the width of its mouth."""
    place = i + 1
    return (
        sizes.needed(f"zone{i}_depth", say("Depth of the pocket, place {place}", place=place)),
        sizes.needed(f"zone{i}_mouth", say("Width of the mouth of the pocket, place {place}", place=place)),
    )


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
    }
    for i, zone in enumerate(body.zones):
        fields[f"zone{i}_name"], fields[f"zone{i}_kind"] = zone.name, zone.kind
        fields[f"zone{i}_slot"] = "yes" if zone.slot else ""
    for field, value, what in _known_sizes(body):
        fields |= _amount(field, value, what, site)
    return Form(fields)


def _known_sizes(body: MouldBody) -> Iterator[tuple[str, float, Dimension]]:
    """Every size that is known, with the field of the form it stands in."""
    lengths = {"height": body.height_m, "width": body.width_m}
    for i, zone in enumerate(body.zones):
        lengths |= {f"zone{i}_height": zone.height_m, f"zone{i}_width": zone.width_m}
        lengths |= {f"zone{i}_depth": zone.depth_m, f"zone{i}_mouth": zone.mouth_m}
    yield from ((field, metres, Dimension.LENGTH) for field, metres in lengths.items() if metres is not None)
    if body.wax_mass_kg is not None:
        yield "wax_mass", body.wax_mass_kg, Dimension.MASS


def _amount(field: str, value: float, what: Dimension, site: Site | None) -> dict[str, str]:
    """As few decimals as come near enough."""
    length = what is Dimension.LENGTH
    unit, near = (length_unit(site), NEAR_M) if length else (mass_unit(site), NEAR_SHARE * value)
    number = registry.Quantity(value, what.value).to(unit).magnitude
    texts = (f"{number:.{decimals}f}" for decimals in range(MOST_DECIMALS))
    text = next((t for t in texts if _off(t, unit, value, what) <= near), f"{number:.9g}")
    return {field: text, f"{field}_unit": unit}


def _off(text: str, unit: str, value: float, what: Dimension) -> float:
    return round(abs(convert(float(text), unit, what) - value), 12)


def length_unit(site: Site | None) -> str:
    return "in" if units_of(site) is Units.US else "cm"


def mass_unit(site: Site | None) -> str:
    return "lb" if units_of(site) is Units.US else "kg"
