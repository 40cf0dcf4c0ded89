"""The form of a tank's check: what is typed, with or without its unit, and back."""

from __future__ import annotations

from dataclasses import replace

import pytest

from api.asked import Form
from api.fakes import SALTMARSH
from api.tank_form import body_of, fields_of
from service.errors import BadInput
from service.records.facts import TankCheckBody
from service.units import Units

US = replace(SALTMARSH, units=Units.US)


def form(**fields: str) -> Form:
    return Form({"tank": "grey", **fields})


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"flow": "24", "flow_unit": "s"}, {"flow_s": 24.0}),
        ({"flow": "24,5", "flow_unit": "s"}, {"flow_s": 24.5}),
        ({"flow": "0.5 min"}, {"flow_s": 30.0}),
        ({"temperature": "20", "temperature_unit": "°C"}, {"temperature_k": 293.15}),
        ({"temperature": "68 degF", "temperature_unit": "°C"}, {"temperature_k": 293.15}),
        ({"density": "1.65", "density_unit": "g/cm³"}, {"density_kg_m3": 1650.0}),
        ({"density": "13.77", "density_unit": "lb/gal"}, {"density_kg_m3": 1650.01}),
        ({"ph": "9,6"}, {"ph": 9.6}),
        ({"water_added": "400", "water_added_unit": "ml"}, {"water_added_kg": 0.39928}),
        ({"water_added": "0.4 kg", "water_added_unit": "ml"}, {"water_added_kg": 0.4}),
        ({"water_added": "1", "water_added_unit": "lb"}, {"water_added_kg": 0.45359}),
        ({"made_new": "yes"}, {"made_new": True}),
        ({"text": "foams"}, {"text": "foams"}),
    ],
)
def test_each_value_with_its_unit(fields: dict[str, str], said: dict[str, object]) -> None:
    body = body_of(form(**fields)).model_dump(exclude={"kind", "tank"}, exclude_defaults=True)
    assert body.keys() == said.keys()
    for name, value in said.items():
        assert body[name] == (pytest.approx(value, rel=1e-4) if isinstance(value, float) else value)


def test_a_tank_not_in_the_list_counts_before_the_list() -> None:
    assert body_of(form(tank_other="pink", ph="8")).tank == "pink"


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({}, "flow"),
        ({"flow": "thick", "flow_unit": "s"}, "flow"),
        ({"flow": "24 kg"}, "flow"),
        ({"flow": "24"}, "flow"),
        ({"flow": "601", "flow_unit": "s"}, "flow"),
        ({"temperature": "90", "temperature_unit": "°C"}, "temperature"),
        ({"density": "100", "density_unit": "g/cm³"}, "density"),
        ({"ph": "basic"}, "ph"),
        ({"ph": "15"}, "ph"),
        ({"ph": "nan"}, "ph"),
        ({"water_added": "0", "water_added_unit": "ml"}, "water_added"),
        ({"water_added": "3 m"}, "water_added"),
        ({"text": "x" * 501}, "text"),
        ({"tank": "", "ph": "8"}, "tank"),
    ],
)
def test_what_cannot_be_is_told_at_its_field(fields: dict[str, str], field: str) -> None:
    with pytest.raises(BadInput) as told:
        body_of(form(**fields))
    assert told.value.field == field


def test_limits_are_told_with_their_units() -> None:
    with pytest.raises(BadInput, match="must be at most 60 °C"):
        body_of(form(temperature="90", temperature_unit="°C"))
    with pytest.raises(BadInput, match="must be at most 600 s"):
        body_of(form(flow="601", flow_unit="s"))
    with pytest.raises(BadInput, match="must be at most 5000 kg/m3"):
        body_of(form(density="9", density_unit="g/cm³"))


@pytest.mark.parametrize("site", [SALTMARSH, US, None])
def test_shown_again_and_sent_back_it_is_the_same(site: object) -> None:
    body = TankCheckBody(
        tank="grey",
        flow_s=24.5,
        temperature_k=293.55,
        density_kg_m3=1653.25,
        ph=9.6,
        water_added_kg=0.39928,
        made_new=True,
        text="foams",
    )
    again = body_of(fields_of(body, site)).model_dump()  # type: ignore[arg-type]
    for name, value in body.model_dump().items():
        assert again[name] == (pytest.approx(value, rel=1e-6) if isinstance(value, float) else value)


def test_what_was_not_said_stays_empty() -> None:
    fields = fields_of(TankCheckBody(tank="grey", ph=8.0), SALTMARSH)
    assert [fields[name] for name in ("flow", "temperature", "density", "water_added", "made_new")] == [
        ""
    ] * 5
