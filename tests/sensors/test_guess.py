"""What is guessed of messages as devices send them, and where no guess is made.

The shapes are those that common firmwares and bridges are known to send (from memory of their documentation).
"""

from __future__ import annotations

import pytest

from sensors.guess import MOST_NUMBERS, guesses, leaves, sensor_name
from service.reading import Quantity
from service.units import Units

TEMPERATURE, HUMIDITY, WEIGHT = Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY, Quantity.WEIGHT
SPEED, PRESSURE, SURFACE = Quantity.AIR_SPEED, Quantity.PRESSURE, Quantity.SURFACE_TEMPERATURE


def guessed(content: object, topic: str = "x/y", units: Units = Units.METRIC) -> list[tuple[object, ...]]:
    return [(g.field, g.quantity, g.unit) for g in guesses(content, topic, units) if g.quantity]


@pytest.mark.parametrize(
    ("topic", "content", "quantity", "unit"),
    [
        ("attic/temperature", "21.4", TEMPERATURE, "degC"),
        ("attic/temperature", 70.5, TEMPERATURE, "degF"),
        ("attic/temperature_f", 30, TEMPERATURE, "degF"),
        ("attic/temp/state", "21.4", TEMPERATURE, "degC"),
        ("attic/x", "21.4 °C", TEMPERATURE, "degC"),
        ("attic/x", "70 F", TEMPERATURE, "degF"),
        ("attic/humidity", "48.2", HUMIDITY, "%"),
        ("attic/humidity", "0.48", HUMIDITY, ""),
        ("attic/rh", "48 %RH", HUMIDITY, "%"),
        ("attic/pressure", "1013.2", PRESSURE, "hPa"),
        ("attic/pressure", "101325", PRESSURE, "Pa"),
        ("attic/barometer", "29.92", PRESSURE, "inHg"),
        ("attic/wind_speed", "1.2", SPEED, "m/s"),
        ("attic/air_speed_fpm", "5", SPEED, "ft/min"),
        ("attic/airspeed", "120", SPEED, "ft/min"),
        ("hook/weight_lb", "9.1", WEIGHT, "lb"),
        ("hook/scale", "8421 g", WEIGHT, "g"),
        ("gate/shell/temperature", "18.1", SURFACE, "degC"),
        ("gate/surface_temperature", "400", SURFACE, "degC"),
    ],
)
def test_a_plain_number(topic: str, content: object, quantity: Quantity, unit: str) -> None:
    assert guessed(content, topic) == [(None, quantity, unit)]


@pytest.mark.parametrize(
    ("topic", "content"),
    [("attic/battery", "97"), ("attic/uptime", 123456), ("attic/dew_point", 10), ("a/b", "on")],
)
def test_where_nothing_speaks_for_one_none_is_made(topic: str, content: object) -> None:
    assert guessed(content, topic) == []


def test_one_object() -> None:
    content = {"temperature": 70.5, "humidity": 0.48, "battery": 97, "linkquality": 120}
    assert guessed(content) == [("temperature", TEMPERATURE, "degF"), ("humidity", HUMIDITY, "")]
    assert [g.sent for g in guesses(content, "t", Units.METRIC)] == ["70.5", "0.48", "97", "120"]


def test_inside_something_named_after_a_chip_any_name_will_do() -> None:
    content = {
        "Time": "2025-01-01T10:00:00",
        "AM2301": {"Temperature": 21.4, "Humidity": 48.2, "DewPoint": 10.0},
    }
    assert guessed(content) == [("*.Temperature", TEMPERATURE, "degC"), ("*.Humidity", HUMIDITY, "%")]


def test_inside_a_plain_name_it_stands_by_that_name() -> None:
    assert guessed({"air": {"temp": 21.4}, "id": 4}) == [("air.temp", TEMPERATURE, "degC")]


def test_two_chips_are_told_apart() -> None:
    content = {"DS1": {"Temperature": 18.1}, "DS2": {"Temperature": 17.6}}
    first, second = guesses(content, "x", Units.METRIC)
    assert (first.field, first.quantity) == ("DS1.Temperature", TEMPERATURE)
    assert (second.field, second.quantity, second.part) == ("DS2.Temperature", None, "Temperature")


def test_a_unit_said_beside_it() -> None:
    assert guessed({"temperature": 20, "temperature_unit": "°F"}) == [("temperature", TEMPERATURE, "degF")]
    assert guessed({"value": 21.4, "unit": "C"}, "attic/temperature") == [("value", TEMPERATURE, "degC")]


def test_a_unit_of_something_else_is_not_believed() -> None:
    assert guessed({"temperature": 21, "unit": "kg"}) == [("temperature", TEMPERATURE, "degC")]


def test_in_a_list() -> None:
    assert guessed({"sensors": [{"temp": 21.4}, {"hum": 48}]}) == [
        ("sensors.0.temp", TEMPERATURE, "degC"),
        ("sensors.1.hum", HUMIDITY, "%"),
    ]


def test_where_both_would_do_the_persons_units_come_first() -> None:
    assert guessed({"weight": 9}) == [("weight", WEIGHT, "kg")]
    assert guessed({"weight": 9}, units=Units.US) == [("weight", WEIGHT, "lb")]
    assert guessed({"temp": 21.4}, units=Units.US) == [("temp", TEMPERATURE, "degC")]


def test_no_more_than_can_be_looked_at() -> None:
    assert len(leaves(list(range(1000)))) == MOST_NUMBERS


def test_nested_as_deep_as_anyone_likes() -> None:
    deep: object = 21.4
    for _ in range(200):
        deep = {"temp": deep}
    assert leaves(deep) == []


@pytest.mark.parametrize(
    "odd", [True, None, [], {}, {"": 5}, "nan", float("nan"), {"temp": "1" * 400}, 10**400]
)
def test_odd_contents_trip_nobody_up(odd: object) -> None:
    assert len(guesses(odd, "attic/temperature", Units.METRIC)) <= 1


@pytest.mark.parametrize(
    ("topic", "name"),
    [
        ("zigbee2mqtt/kiln corner", "kiln corner"),
        ("tele/attic/SENSOR", "attic"),
        ("shop/bench/air/temperature", "bench"),
        ("home/sensor/temperature/state", "state"),
        ("loft/thing-7/up", "thing-7"),
        ("x", "x"),
        ("/", "sensor"),
        ("a/" + "n" * 80, "n" * 60),
    ],
)
def test_the_sensors_name(topic: str, name: str) -> None:
    assert sensor_name(topic) == name
