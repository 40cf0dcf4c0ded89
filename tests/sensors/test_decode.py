"""From topic and payload to SI numbers, or to the reason why not."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sensors.declared import Declared
from sensors.decode import LARGEST_PAYLOAD, LONGEST_NAME, MISSING, NUMBER, Measured, decode, find
from service.reading import Quantity, Reason, Rejected
from tests.sensors.helpers import NOW, message, shipped

SHIPPED = shipped()
TEMPERATURE = {"quantity": "air_temperature", "unit": "degC", "field": "t"}


def declared(*values: dict[str, Any], pattern: str = "a/{sensor}", **more: Any) -> Declared:
    return Declared.model_validate({"messages": [{"pattern": pattern, "values": values, **more}]})


def read(topic: str, payload: str | bytes, by: Declared = SHIPPED) -> list[Measured | Rejected]:
    return decode(by, message(topic, payload))


def good(topic: str, payload: str | bytes, by: Declared = SHIPPED) -> dict[tuple[str, Quantity], float]:
    values = read(topic, payload, by)
    assert all(isinstance(value, Measured) for value in values), values
    return {(v.sensor, v.quantity): v.value for v in values if isinstance(v, Measured)}


def bad(topic: str, payload: str | bytes, by: Declared = SHIPPED) -> Rejected:
    (only,) = read(topic, payload, by)
    assert isinstance(only, Rejected), only
    return only


T, RH, V = Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY, Quantity.AIR_SPEED
P, SURFACE, KG = Quantity.PRESSURE, Quantity.SURFACE_TEMPERATURE, Quantity.WEIGHT
SHAPES = [
    ("shop/b/air", '{"temperature": 20, "humidity": 50}', {T: 293.15, RH: 0.5}),
    (
        "shop/b/air",
        '{"temperature": "20.0", "humidity": " 50 ", "pressure": 1013.25, "air_speed": 0.6, "battery": 97}',
        {
            T: 293.15,
            RH: 0.5,
            P: 101325.0,
            V: 0.6,
        },
    ),
    (
        "shop/b/air_us",
        '{"temperature_f": 68, "humidity": 50, "air_speed_fpm": 100, "pressure_inhg": 29.9213}',
        {
            T: 293.15,
            RH: 0.5,
            V: 0.508,
            P: 101325.0,
        },
    ),
    (
        "shop/b/report",
        '{"Time": "x", "chip": {"Temperature": 20, "Humidity": 50, "Dew": 9}}',
        {T: 293.15, RH: 0.5},
    ),
    ("shop/b/report", '{"one": {"Temperature": 20}, "two": {"Pressure": 1013.25}}', {T: 293.15, P: 101325.0}),
    ("shop/radio", '{"id": "b", "temperature": 20}', {T: 293.15}),
    ("shop/b/temperature", "20.0", {T: 293.15}),
    ("shop/b/temperature", b" 20.0\r\n\0", {T: 293.15}),
    ("shop/b/temperature", b"\xef\xbb\xbf20", {T: 293.15}),
    ("shop/b/temperature", '"+2.0e1"', {T: 293.15}),
    ("shop/b/temperature_f", "68", {T: 293.15}),
    ("shop/b/humidity", "50", {RH: 0.5}),
    ("shop/b/pressure", "1013.25", {P: 101325.0}),
    ("shop/b/air_speed", ".6", {V: 0.6}),
    ("shop/b/air_speed_fpm", "100", {V: 0.508}),
    ("shop/b/surface_temperature", "-5.", {SURFACE: 268.15}),
    ("shop/b/weight", "4.2", {KG: 4.2}),
    ("shop/b/weight_lb", "10", {KG: 4.5359237}),
    ("shop/b/temperature/state", "20", {T: 293.15}),
    ("shop/b/humidity/state", "50", {RH: 0.5}),
]


@pytest.mark.parametrize(("topic", "payload", "values"), SHAPES)
def test_every_shipped_shape_is_read(topic: str, payload: str | bytes, values: dict[Quantity, float]) -> None:
    # 1 lb = 0.45359237 kg exactly and 1 ft/min = 0.00508 m/s exactly (NIST SP 811, appendix B.8);
    # 29.9213 inHg = 101325 Pa (same, inch of mercury, conventional: 3386.389 Pa).
    assert good(topic, payload) == pytest.approx({("b", q): v for q, v in values.items()}, rel=1e-5)


def test_every_shipped_declaration_has_a_shape_above() -> None:
    read_by = {id(found[0]) for topic, _, _ in SHAPES if (found := SHIPPED.find(topic))}
    read_by |= {id(found[0]) for found in [SHIPPED.find("shop/b/surfaces")] if found}
    assert read_by == {id(declaration) for declaration in SHIPPED.messages}


def test_two_probes_of_a_board_are_two_sensors() -> None:
    assert good("shop/gate/surfaces", '{"left": 18, "right": 17}') == {
        ("gate left", Quantity.SURFACE_TEMPERATURE): pytest.approx(291.15),
        ("gate right", Quantity.SURFACE_TEMPERATURE): pytest.approx(290.15),
    }


def test_what_was_sent_is_kept_beside_the_si_value() -> None:
    (value,) = read("shop/b/temperature_f", "68")
    assert isinstance(value, Measured)
    assert (value.sent, value.unit) == (68.0, "degF")


def test_an_ignored_topic_gives_nothing() -> None:
    assert read("shop/bench/availability", "offline") == []


def test_an_unknown_topic_is_told() -> None:
    refused = bad("shp/bench/air", "{}")
    assert refused.reason is Reason.UNKNOWN_TOPIC
    assert "shp/bench/air" in refused.words
    assert refused.sensor is None


@pytest.mark.parametrize(
    ("payload", "reason", "words"),
    [
        ("", Reason.UNREADABLE, "not a number"),
        ("on", Reason.UNREADABLE, "“on”"),
        ("unavailable", Reason.UNREADABLE, "“unavailable”"),
        ("20,5", Reason.UNREADABLE, "point, not a comma"),
        ("1_000", Reason.UNREADABLE, "not a number"),
        ("20 apples", Reason.UNREADABLE, "not a number"),
        ("0x14", Reason.UNREADABLE, "not a number"),
        ("٢٠", Reason.UNREADABLE, "not a number"),
        (b"\xff\xfe", Reason.UNREADABLE, "not text"),
        ("nan", Reason.NOT_FINITE, "no value"),
        ("-NaN", Reason.NOT_FINITE, "no value"),
        ("inf", Reason.NOT_FINITE, "no value"),
        ("-Infinity", Reason.NOT_FINITE, "no value"),
        ("1e999", Reason.NOT_FINITE, "no value"),
    ],
)
def test_a_plain_payload_that_is_no_number(payload: str | bytes, reason: Reason, words: str) -> None:
    refused = bad("shop/bench/temperature", payload)
    assert refused.reason is reason
    assert words in refused.words
    assert refused.sensor == "bench"


@pytest.mark.parametrize(
    ("sent", "reason"),
    [
        ("true", Reason.UNREADABLE),
        ("null", Reason.UNREADABLE),
        ("[]", Reason.UNREADABLE),
        ("{}", Reason.UNREADABLE),
        ('"on"', Reason.UNREADABLE),
        ('"\\ud800"', Reason.UNREADABLE),
        ("NaN", Reason.NOT_FINITE),
        ("-Infinity", Reason.NOT_FINITE),
        ('"nan"', Reason.NOT_FINITE),
        ("1e400", Reason.NOT_FINITE),
        ("9" * 400, Reason.NOT_FINITE),
    ],
)
def test_a_field_that_is_no_number_does_not_spoil_its_neighbour(sent: str, reason: Reason) -> None:
    refused, humidity = read("shop/bench/air", f'{{"temperature": {sent}, "humidity": 50}}')
    assert isinstance(refused, Rejected)
    assert (refused.reason, refused.quantity) == (reason, Quantity.AIR_TEMPERATURE)
    assert isinstance(humidity, Measured)
    refused.words.encode("utf-8")


def test_a_number_too_large_for_its_unit_is_not_finite() -> None:
    assert bad("shop/b/pressure", "1e308").reason is Reason.NOT_FINITE


@pytest.mark.parametrize(
    "payload", ["", "{", "temperature=20", "[" * 5000, "9" * 5000, "{'temperature': 20}"]
)
def test_what_is_not_json_is_told(payload: str) -> None:
    refused = bad("shop/bench/air", payload)
    assert (refused.reason, refused.words) == (Reason.UNREADABLE, "The message is not JSON.")


@pytest.mark.parametrize("payload", ["{}", "[]", "20", '"text"', "null", '{"Temperature": 20}'])
def test_json_without_any_of_the_fields_names_them(payload: str) -> None:
    refused = bad("shop/bench/air", payload)
    assert refused.reason is Reason.UNREADABLE
    assert "temperature, humidity" in refused.words
    assert refused.sensor == "bench"


def test_a_missing_field_is_told_and_a_missing_optional_one_is_not() -> None:
    humidity, temperature = sorted(read("shop/bench/air", '{"humidity": 50}'), key=lambda v: type(v).__name__)
    assert isinstance(humidity, Measured)
    assert isinstance(temperature, Rejected)
    assert temperature.words == "The field temperature is missing."


def test_a_payload_of_exactly_the_largest_size_is_read() -> None:
    assert good("shop/b/weight", b"4.2".ljust(LARGEST_PAYLOAD)) == {("b", Quantity.WEIGHT): 4.2}


def test_a_payload_one_byte_larger_is_refused() -> None:
    refused = bad("shop/b/weight", b"4.2".ljust(LARGEST_PAYLOAD + 1))
    assert refused.reason is Reason.UNREADABLE
    assert "too long" in refused.words
    assert len(refused.payload) <= 200


@pytest.mark.parametrize(
    ("content", "path", "found"),
    [
        ({"a": {"b": 1}}, "a.b", 1),
        ({"a.b": 1, "a": {"b": 2}}, "a.b", 1),
        ({"x": {"a.b": 1}}, "x.a.b", 1),
        ({"x": 0, "y": {"t": 1}, "z": {"t": 2}}, "*.t", 1),
        ({"x": {"y": {"t": 1}}}, "*.*.t", 1),
        ([5, 6], "1", 6),
        ([{"t": 5}, {"t": 6}], "*.t", 5),
        ({"probes": [{"t": 5}]}, "probes.0.t", 5),
        ({"1": 7}, "1", 7),
        ({"a": None}, "a", None),
    ],
)
def test_a_field_is_found(content: object, path: str, found: object) -> None:
    assert find(content, path.split(".")) == found


@pytest.mark.parametrize(
    ("content", "path"),
    [
        ({}, "a"),
        ({"a": 1}, "a.b"),
        ([5], "1"),
        ([5], "-1"),
        ([5], "٠"),
        ([5], "99999"),
        ([5], "x"),
        ("text", "0"),
        (None, "a"),
        ({"x": 1}, "*.t"),
    ],
)
def test_a_field_that_is_not_there_is_missing(content: object, path: str) -> None:
    assert find(content, path.split(".")) is MISSING


def test_a_sensor_can_be_named_in_the_file() -> None:
    by = declared({**TEMPERATURE, "field": "t"}, pattern="yard/air", sensor="yard")
    assert good("yard/air", '{"t": 0}', by) == {("yard", Quantity.AIR_TEMPERATURE): 273.15}


def test_a_sensor_can_be_numbered_in_the_message() -> None:
    assert good("shop/radio", '{"id": 73, "humidity": 50}') == {("73", Quantity.RELATIVE_HUMIDITY): 0.5}


@pytest.mark.parametrize(
    "name", ["", " ", "null", "true", "[]", '"' + "x" * (LONGEST_NAME + 1) + '"', '"a\\u0000b"', '"\\ud800"']
)
def test_a_message_that_does_not_name_its_sensor_is_refused(name: str) -> None:
    refused = bad("shop/radio", f'{{"id": {name or json.dumps("")}, "humidity": 50}}'.replace('" "', '""'))
    assert refused.reason is Reason.UNREADABLE


def test_the_longest_name_is_taken_and_a_longer_one_is_not() -> None:
    assert good(f"shop/{'x' * LONGEST_NAME}/weight", "1") == {("x" * LONGEST_NAME, Quantity.WEIGHT): 1.0}
    refused = bad(f"shop/{'x' * (LONGEST_NAME + 1)}/weight", "1")
    assert "name its sensor" in refused.words
    assert bad("shop/ /weight", "1").sensor is None
    assert refused.sensor is None


@pytest.mark.parametrize(
    "sent",
    [
        NOW.timestamp(),
        int(NOW.timestamp()),
        int(NOW.timestamp() * 1000),
        str(int(NOW.timestamp())),
        "2026-03-02T14:20:00Z",
        "2026-03-02T14:20:00",
        " 2026-03-02 14:20:00 ",
        "2026-03-02T15:20:00+01:00",
        "20260302T142000Z",
    ],
)
def test_the_sensors_own_time_is_read(sent: object) -> None:
    (value,) = read("a/b", json.dumps({"t": 20, "at": sent}), declared(TEMPERATURE, time_field="at"))
    assert isinstance(value, Measured)
    assert value.own_clock
    assert value.measured_at == NOW
    assert value.measured_at.tzinfo is UTC


@pytest.mark.parametrize(
    "sent",
    [
        None,
        True,
        "",
        "noon",
        "14:20",
        [],
        {},
        math.nan,
        math.inf,
        1e300,
        -1e300,
        "1e300",
        "0001-01-01T00:00+23:59",
    ],
)
def test_a_time_that_cannot_be_read_leaves_the_value(sent: object) -> None:
    (value,) = read("a/b", json.dumps({"t": 20, "at": sent}), declared(TEMPERATURE, time_field="at"))
    assert isinstance(value, Measured)
    assert value.own_clock
    assert value.measured_at is None


def test_a_missing_time_leaves_the_value() -> None:
    (value,) = read("a/b", '{"t": 20}', declared(TEMPERATURE, time_field="at"))
    assert isinstance(value, Measured)
    assert (value.own_clock, value.measured_at) == (True, None)


def test_a_sensor_without_a_clock_has_no_time() -> None:
    (value,) = read("a/b", '{"t": 20, "at": 5}', declared(TEMPERATURE))
    assert isinstance(value, Measured)
    assert (value.own_clock, value.measured_at) == (False, None)


def test_the_declared_interval_comes_with_the_value() -> None:
    (value,) = read("a/b", '{"t": 20}', declared(TEMPERATURE, every="1 min"))
    assert isinstance(value, Measured)
    assert value.every_s == 60.0


JSON_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=20,
)
KNOWN_KEYS = st.sampled_from(
    ["temperature", "humidity", "pressure", "air_speed", "id", "chip", "Temperature", "at", "t"]
)
DOCUMENTS = JSON_VALUES | st.dictionaries(
    KNOWN_KEYS, JSON_VALUES | st.dictionaries(KNOWN_KEYS, JSON_VALUES), max_size=6
)
TOPICS = st.sampled_from([topic for topic, _, _ in SHAPES]) | st.text(max_size=30)
PAYLOADS = st.binary(max_size=200) | st.text(max_size=60).map(lambda t: t.encode("utf-8", "surrogatepass")) | (
    DOCUMENTS.map(lambda document: json.dumps(document).encode())
)  # fmt: skip


@settings(max_examples=400, deadline=None)
@given(TOPICS, PAYLOADS)
def test_no_message_makes_decoding_raise(topic: str, payload: bytes) -> None:
    for one in decode(SHIPPED, message(topic, payload)):
        if isinstance(one, Measured):
            assert math.isfinite(one.value)
            assert one.sensor.isprintable()
        else:
            assert one.words
            f"{one.topic}{one.payload}{one.words}{one.sensor}".encode()


@settings(max_examples=200, deadline=None)
@given(DOCUMENTS)
def test_no_time_makes_decoding_raise(document: object) -> None:
    by = declared(TEMPERATURE, pattern="a/b", sensor_field="id", time_field="at")
    for one in decode(by, message("a/b", json.dumps(document))):
        assert isinstance(one, Measured | Rejected)


@settings(max_examples=200, deadline=None)
@given(st.floats(-50, 150), st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1)))
def test_a_number_and_a_time_come_back_as_sent(number: float, at: datetime) -> None:
    by = declared(TEMPERATURE, time_field="at")
    (value,) = decode(by, message("a/b", json.dumps({"t": number, "at": at.isoformat() + "Z"})))
    assert isinstance(value, Measured)
    assert value.value == pytest.approx(number + 273.15, abs=1e-9)
    assert value.measured_at is not None
    assert abs(value.measured_at - at.replace(tzinfo=UTC)) < timedelta(microseconds=2)


@pytest.mark.parametrize(
    ("payload", "kelvin"), [("21 °C", 294.15), ("69.8 °F", 294.15), ("69.8F", 294.15), ("21", 294.15)]
)
def test_a_text_that_says_its_unit_knows_best(payload: str, kelvin: float) -> None:
    (only,) = read("shop/bench/temperature", payload)
    assert isinstance(only, Measured)
    assert only.value == pytest.approx(kelvin)


def test_a_unit_of_something_else_is_no_number() -> None:
    assert "not a number" in bad("shop/bench/temperature", "21 kg").words


def test_a_long_row_of_digits_is_no_work() -> None:
    """Tried digit by digit from both ends it took seconds for each message, and hours for this one."""
    assert NUMBER.fullmatch("1" * 500_000 + "!") is None
    assert NUMBER.fullmatch("1" * 500_000)
