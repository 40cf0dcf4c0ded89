"""sensors.toml: the shipped list, and mistakes told in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from sensors.declared import UNITS, Declaration, Declared, read_declared
from sensors.quantities import KINDS
from service.errors import BadInput
from service.reading import Quantity
from tests.sensors.helpers import shipped

AIR = '{quantity = "air_temperature", unit = "degC", field = "t"}'


def read(folder: Path, text: str) -> Declared:
    path = folder / "sensors.toml"
    path.write_text(text, encoding="utf-8")
    return read_declared(path)


def one(folder: Path, pattern: str = "a/{sensor}", values: str = AIR, more: str = "") -> Declaration:
    text = f'[[messages]]\npattern = "{pattern}"\nvalues = [{values}]\n{more}\n'
    return read(folder, text).messages[0]


def test_the_shipped_list_is_read() -> None:
    declared = shipped()
    assert declared.filters == ["#"]
    assert {v.quantity for m in declared.messages for v in m.values} == set(Quantity)


def test_the_shipped_list_covers_plain_numbers_flat_and_nested_json() -> None:
    fields = [value.field for m in shipped().messages for value in m.values]
    assert None in fields
    assert "temperature" in fields
    assert "*.Temperature" in fields


def test_no_shipped_declaration_is_hidden_by_one_before_it() -> None:
    declared = shipped()
    for declaration in declared.messages:
        topic = declaration.pattern.replace("{sensor}", "bench")
        assert declared.find(topic) == (declaration, "bench" if "{sensor}" in declaration.pattern else "")
        assert not declared.ignores(topic)


def test_what_devices_say_about_themselves_is_passed_over() -> None:
    assert shipped().ignores("shop/bench/availability")
    assert shipped().ignores("shop/bench/log/wifi")
    assert not shipped().ignores("shop/bench/air")


def test_a_topic_nobody_declared_is_not_found() -> None:
    assert shipped().find("shp/bench/air") is None


def test_a_declaration_is_read_whole(tmp_path: Path) -> None:
    declaration = one(tmp_path, more='every = "2 min"\ntime_field = "at"')
    assert declaration.pattern == "a/{sensor}"
    assert declaration.every_s == 120.0
    assert declaration.time_field == "at"
    assert declaration.values[0].quantity is Quantity.AIR_TEMPERATURE
    assert not declaration.values[0].optional


def test_the_first_declaration_that_fits_reads(tmp_path: Path) -> None:
    table = '[[messages]]\npattern = "{}"\nvalues = [{{quantity = "weight", unit = "{}"}}]\n'
    declared = read(tmp_path, table.format("a/{sensor}", "kg") + table.format("{sensor}/b", "lb"))
    found = declared.find("a/b")
    assert found is not None
    assert (found[0].values[0].unit, found[1]) == ("kg", "b")


TABLE = '[[messages]]\npattern = "{}"\n{}\nvalues = [{{quantity = "weight", unit = "kg", field = "w"}}]\n'


def two(folder: Path, *patterns: str) -> Declared:
    named = ("" if "{sensor}" in pattern else 'sensor = "bench"' for pattern in patterns)
    return read(folder, "".join(TABLE.format(*pair) for pair in zip(patterns, named, strict=True)))


@pytest.mark.parametrize(
    ("early", "late"),
    [
        ("a/b", "a/{sensor}"),
        ("{sensor}/b", "a/{sensor}"),
        ("a/{sensor}", "a/{sensor}/b"),
        ("a/{sensor}", "a/+"),
    ],
)
def test_patterns_may_overlap_in_part(tmp_path: Path, early: str, late: str) -> None:
    assert len(two(tmp_path, early, late).messages) == 2


def test_the_same_pattern_twice_is_told(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="the second is never read") as told:
        two(tmp_path, "a/{sensor}", "b/{sensor}", "a/{sensor}")
    assert "“a/{sensor}” stands there twice" in str(told.value)
    assert told.value.code == "never_read"


@pytest.mark.parametrize(
    ("early", "late"),
    [("a/{sensor}", "a/b"), ("a/+", "a/{sensor}"), ("#", "a/{sensor}"), ("a/{sensor}/#", "a/{sensor}")],
)
def test_what_an_earlier_pattern_reads_whole_is_told(tmp_path: Path, early: str, late: str) -> None:
    with pytest.raises(BadInput) as told:
        two(tmp_path, early, late)
    assert f"“{late}” is never read: “{early}” stands before it" in str(told.value)
    assert "sensors.toml" in str(told.value)


def test_listening_is_added_to_the_patterns(tmp_path: Path) -> None:
    table = '[[messages]]\npattern = "a/{sensor}"\nvalues = [{quantity = "weight", unit = "kg"}]\n'
    assert set(read(tmp_path, 'listen = ["b/#"]\n' + table).filters) == {"a/+", "b/#"}


@pytest.mark.parametrize("name", list(Quantity))
def test_the_units_an_error_suggests_are_right_ones(tmp_path: Path, name: Quantity) -> None:
    for unit in UNITS[KINDS[name].dimension].split('"')[1::2]:
        assert one(tmp_path, values=f'{{quantity = "{name}", unit = "{unit}"}}').values[0].unit == unit


MISTAKES = [
    ('messagez = 1\n[[messages]]\npattern="a/{sensor}"\nvalues=[' + AIR + "]", "key_unknown", "messages"),
    ('[[messages]]\npattern="a/{sensor}"\nvalues=[{quantity="weight",unti="kg"}]', "key_unknown", "“unit”"),
    ('[[messages]]\npatern="a/{sensor}"\nvalues=[' + AIR + "]", "key_unknown", "“pattern”"),
    ('listen = ["#"]', "key_missing", "messages"),
    ("messages = []", "none_given", "nothing in it"),
    ('[[messages]]\npattern="a/{sensor}"\nvalues=[]', "none_given", "values"),
    ('[[messages]]\npattern="a/{sensor}"', "key_missing", "values"),
    ('[[messages]]\nvalues=[' + AIR + "]", "key_missing", "pattern"),
    ('listen = ["a/#/b"]\n[[messages]]\npattern="a/{sensor}"\nvalues=[' + AIR + "]", "topic_wrong", "listen no. 1"),
    ("messages = [", "toml_syntax", "sensors.toml"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "code", "words"), MISTAKES)
def test_a_mistake_in_the_file_is_told(tmp_path: Path, text: str, code: str, words: str) -> None:
    with pytest.raises(BadInput) as told:
        read(tmp_path, text)
    assert told.value.code == code
    assert words in str(told.value)
    assert "sensors.toml" in str(told.value)


@pytest.mark.parametrize(
    ("values", "code", "words"),
    [
        ('{quantity = "humidity", unit = "%"}', "value_wrong", "relative_humidity"),
        ('{quantity = "air_temperature", unit = "hPa"}', "unit_wrong", '"degC" or "degF"'),
        ('{quantity = "air_temperature", unit = "delta_degC"}', "unit_wrong", '"degC" or "degF"'),
        ('{quantity = "air_temperature", unit = ""}', "unit_wrong", '"degC" or "degF"'),
        ('{quantity = "pressure", unit = "millibarleycorn"}', "unit_wrong", '"hPa"'),
        ('{quantity = "weight", unit = "kg", field = "a..b"}', "field_wrong", "“a..b”"),
        ('{quantity = "weight", unit = "kg", field = ""}', "field_wrong", "empty name"),
        (f'{AIR}, {{quantity = "weight", unit = "kg"}}', "field_missing", "weight has no field"),
        (f"{AIR}, {AIR}", "value_twice", "part"),
        ('{quantity = "weight", unit = "kg", part = ""}', "value_wrong", "part"),
    ],
)
def test_a_mistake_in_a_value_is_told_with_its_place(
    tmp_path: Path, values: str, code: str, words: str
) -> None:
    with pytest.raises(BadInput) as told:
        one(tmp_path, values=values)
    assert told.value.code == code
    assert words in str(told.value)
    assert "messages no. 1" in str(told.value)


@pytest.mark.parametrize(
    ("pattern", "more", "code"),
    [
        ("a/b", "", "sensor_unnamed"),
        ("a/{sensor}", 'sensor = "bench"', "sensor_unnamed"),
        ("a/{sensor}", 'sensor_field = "id"', "sensor_unnamed"),
        ("a/b", 'sensor = "bench"\nsensor_field = "id"', "sensor_unnamed"),
        ("a/{sensor", "", "topic_wrong"),
        ("a/{sensor}", 'every = "60"', "unit_missing"),
        ("a/{sensor}", "every = 60", "unit_missing"),
        ("a/{sensor}", 'every = "0.5 s"', "value_wrong"),
        ("a/{sensor}", 'every = "25 h"', "value_wrong"),
        ("a/{sensor}", 'time_field = "a."', "field_wrong"),
    ],
)
def test_a_mistake_in_a_declaration_is_told(tmp_path: Path, pattern: str, more: str, code: str) -> None:
    with pytest.raises(BadInput) as told:
        one(tmp_path, pattern, more=more)
    assert told.value.code == code


def test_intervals_of_exactly_a_second_and_a_day_are_taken(tmp_path: Path) -> None:
    assert one(tmp_path, more='every = "1 s"').every_s == 1.0
    assert one(tmp_path, more='every = "24 h"').every_s == 86400.0


def test_two_probes_of_a_board_are_told_apart(tmp_path: Path) -> None:
    probe = '{{quantity = "surface_temperature", unit = "degC", field = "{0}", part = "{0}"}}'
    values = one(tmp_path, values=", ".join(probe.format(name) for name in ("left", "right"))).values
    assert [value.part for value in values] == ["left", "right"]


@pytest.mark.parametrize("more", ['sensor_field = "id"', 'time_field = "at"'])
def test_a_plain_number_has_no_fields_beside_it(tmp_path: Path, more: str) -> None:
    pattern = "a/b" if "sensor_field" in more else "a/{sensor}"
    with pytest.raises(BadInput, match="no field"):
        one(tmp_path, pattern, '{quantity = "weight", unit = "kg"}', more)


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="There is no file"):
        read_declared(tmp_path / "sensors.toml")
