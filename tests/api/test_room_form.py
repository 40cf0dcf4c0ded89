"""The form for what stands in a room, there and back."""

from __future__ import annotations

import pytest

from api.asked import Form
from api.fakes import SHELL_ROOM
from api.room_form import fields_of, fittings_of
from service.errors import BadInput
from service.room.room_fittings import RoomFittings, Runs
from service.units import Units


def test_nothing_is_required() -> None:
    assert fittings_of(Form({})) == RoomFittings()


@pytest.mark.parametrize("units", list(Units))
def test_what_holds_comes_back_as_it_was(units: Units) -> None:
    again = fittings_of(fields_of(SHELL_ROOM, units))
    for name in RoomFittings.model_fields:
        one, other = getattr(SHELL_ROOM, name), getattr(again, name)
        if isinstance(one, float):
            assert other == pytest.approx(one, rel=1e-4), name
    assert again.heater is Runs.HOLDS
    assert again.dehumidifier_points[0].water_kg_s == pytest.approx(20.0 / 86400.0, rel=1e-3)
    nothing = fittings_of(fields_of(RoomFittings(), units))
    assert nothing.dehumidifier_frost_k == pytest.approx(278.15, abs=1e-3)
    assert nothing.model_copy(update={"dehumidifier_frost_k": 278.15}) == RoomFittings()


def test_in_the_units_of_the_country() -> None:
    said = fittings_of(
        Form(
            {
                "volume": "5150 ft3",
                "heater_power": "10000 BTU/h",
                "heater": "holds",
                "heater_set": "70",
                "heater_set_unit": "°F",
                "warm_1": "80 F",
                "damp_1": "60",
                "damp_1_unit": "%",
                "water_1": "42",
                "water_1_unit": "pint/day",
                "fan_speed": "200 ft/min",
                "fan_on": "yes",
                "open_tanks": "4 ft2",
                "people": "2",
                "air_changes": "0,8",
            }
        )
    )
    assert said.volume_m3 == pytest.approx(5150 * 0.3048**3)
    assert said.heater_w == pytest.approx(2930.7, rel=1e-3)
    assert said.heater_set_k == pytest.approx(294.26, abs=0.01)
    assert said.dehumidifier_points[0].water_kg_s * 86400 == pytest.approx(42 * 0.473176 * 0.9982, rel=1e-4)
    assert said.fan_m_s == pytest.approx(1.016)
    assert said.fan_on
    assert said.tank_m2 == pytest.approx(4 * 0.3048**2)
    assert (said.people, said.air_changes_an_hour) == (2, 0.8)


def test_length_width_and_height_make_a_volume() -> None:
    sides = {"long": "9", "long_unit": "m", "wide": "6 m", "high": "2.7 m"}
    assert fittings_of(Form(sides)).volume_m3 == pytest.approx(145.8)
    assert fittings_of(Form({**sides, "volume": "100 m3"})).volume_m3 == pytest.approx(100.0)


@pytest.mark.parametrize(
    ("fields", "field", "todo"),
    [
        ({"volume": "146"}, "volume", "146 m3"),
        ({"volume": "2 m3"}, "volume", "unit"),
        ({"long": "9 m", "wide": "6 m"}, "long", "all three"),
        ({"heater": "on"}, "heater_power", "watts"),
        ({"heater": "holds", "heater_power": "2 kW"}, "heater_set", "on all the time"),
        ({"heater_power": "900 kW"}, "heater_power", "unit"),
        ({"dehumidifier": "on"}, "water_1", "plate"),
        ({"warm_1": "27 degC", "damp_1": "60 %"}, "water_1", "all three"),
        ({"water_2": "20 l/day"}, "warm_2", "all three"),
        ({"warm_1": "27 degC", "damp_1": "60 %", "water_1": "20 m"}, "water_1", "20 l/day"),
        ({"warm_1": "4 degC", "damp_1": "30 %", "water_1": "20 l/day"}, "water_1", "20 °C"),
        ({"fan_on": "yes"}, "fan_speed", "1 m/s"),
        ({"people": "two"}, "people", "People at work"),
        ({"people": "80"}, "people", "unit"),
        ({"air_changes": "often"}, "air_changes", "one"),
    ],
)
def test_what_cannot_be_is_told_at_its_field(fields: dict[str, str], field: str, todo: str) -> None:
    with pytest.raises(BadInput) as told:
        fittings_of(Form(fields))
    assert told.value.field == field
    assert todo in told.value.todo
