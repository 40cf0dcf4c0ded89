"""The border between units people write and the SI floats inside.

Conversion factors are exact by definition: NIST Special Publication 811 (2008), appendix B (inch, foot, pound, inch of
mercury at 0 degC to its six given figures), and 0 degC = 273.15 K.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel, Field, ValidationError

from service.errors import BadInput
from service.units import (
    EXAMPLES,
    LONGEST,
    SHOWN,
    Dimension,
    Fraction,
    LengthM,
    SecondsS,
    SpeedMS,
    TemperatureK,
    Units,
    convert,
    parse,
    show,
    show_apart,
    water_flow,
    water_mass,
    with_decimals,
)

WRITTEN = [
    ("20.7 degC", Dimension.TEMPERATURE, 293.85),
    ("69 degF", Dimension.TEMPERATURE, (69 + 459.67) * 5 / 9),
    ("20 °C", Dimension.TEMPERATURE, 293.15),
    ("-40 degF", Dimension.TEMPERATURE, 233.15),
    ("-40 F", Dimension.TEMPERATURE, 233.15),
    ("20c", Dimension.TEMPERATURE, 293.15),
    ("300 K", Dimension.TEMPERATURE, 300.0),
    ("1.7 delta_degC", Dimension.TEMPERATURE_DIFFERENCE, 1.7),
    ("3 delta_degF", Dimension.TEMPERATURE_DIFFERENCE, 5 / 3),
    ("45 %", Dimension.FRACTION, 0.45),
    ("45%", Dimension.FRACTION, 0.45),
    ("45 percent", Dimension.FRACTION, 0.45),
    ("0.45", Dimension.FRACTION, 0.45),
    ("0.6 m/s", Dimension.SPEED, 0.6),
    ("120 ft/min", Dimension.SPEED, 120 * 0.3048 / 60),
    ("1013 hPa", Dimension.PRESSURE, 101300.0),
    ("29.92 inHg", Dimension.PRESSURE, 29.92 * 3386.389),
    ("40 mm", Dimension.LENGTH, 0.04),
    ("1.1mm", Dimension.LENGTH, 0.0011),
    ("1.5 in", Dimension.LENGTH, 0.0381),
    ("2 ft", Dimension.LENGTH, 0.6096),
    ("145 m3", Dimension.VOLUME, 145.0),
    ("5100 ft3", Dimension.VOLUME, 5100 * 0.3048**3),
    ("3 ft2", Dimension.AREA, 3 * 0.3048**2),
    ("2 kW", Dimension.POWER, 2000.0),
    ("7000 BTU/h", Dimension.POWER, 7000 * 1055.05585262 / 3600),
    ("20 kg/day", Dimension.WATER_FLOW, 20 / 86400),
    ("9 lb", Dimension.MASS, 9 * 0.45359237),
    ("9 lb 4 oz", Dimension.MASS, 9.25 * 0.45359237),
    ("9lbs, 4.5oz", Dimension.MASS, 9.28125 * 0.45359237),
    ("0 Pounds 8 ounces", Dimension.MASS, 0.5 * 0.45359237),
    ("15 s", Dimension.TIME, 15.0),
    ("2 h", Dimension.TIME, 7200.0),
    ("90 min", Dimension.TIME, 5400.0),
    ("2 days", Dimension.TIME, 172800.0),
    ("1650 kg/m3", Dimension.DENSITY, 1650.0),
    ("1.65 g/cm3", Dimension.DENSITY, 1650.0),
    ("1650 kg/m^3", Dimension.DENSITY, 1650.0),
    ("1650 kg/m**3", Dimension.DENSITY, 1650.0),
    ("4e-10 m2/s", Dimension.DIFFUSIVITY, 4e-10),
    ("4E-6 cm2/s", Dimension.DIFFUSIVITY, 4e-10),
    ("0.05 kg/m2/s**0.5", Dimension.SORPTIVITY, 0.05),
    ("18 kJ/mol", Dimension.MOLAR_ENERGY, 18000.0),
    ("2450 kJ/kg", Dimension.SPECIFIC_ENERGY, 2.45e6),
    ("9500 J/m2/K", Dimension.AREA_HEAT_CAPACITY, 9500.0),
    ("900 J/kg/K", Dimension.SPECIFIC_HEAT, 900.0),
    ("900 J/kg/delta_degC", Dimension.SPECIFIC_HEAT, 900.0),
    ("1200 g/m2", Dimension.AREA_DENSITY, 1.2),
    ("  7   mm ", Dimension.LENGTH, 0.007),
    ("+3 mm", Dimension.LENGTH, 0.003),
]


@pytest.mark.parametrize(("text", "dimension", "value"), WRITTEN)
def test_what_people_write_is_read(text: str, dimension: Dimension, value: float) -> None:
    assert parse(text, dimension) == pytest.approx(value, rel=1e-6)


def test_a_text_as_long_as_a_page_is_not_worked_through() -> None:
    for text in ("1 " + "x" * 60_000, "9" * 5000 + "/2 in", "1 " + "(" * 3000):
        with pytest.raises(BadInput) as caught:
            parse(text, Dimension.LENGTH, "height")
        assert caught.value.code == "value_too_long"
        assert len(caught.value.message) < 100


def test_as_long_as_a_value_may_be() -> None:
    assert parse("7".rjust(LONGEST - 2) + " m", Dimension.LENGTH) == 7.0
    with pytest.raises(BadInput):
        parse("7".rjust(LONGEST - 1) + " m", Dimension.LENGTH)


@pytest.mark.parametrize("dimension", [d for d in Dimension if d in EXAMPLES])
def test_every_example_given_in_an_error_can_be_read(dimension: Dimension) -> None:
    for example in EXAMPLES[dimension].split(" or "):
        assert math.isfinite(parse(example, dimension))


@pytest.mark.parametrize("written", ["{} %", "{:.2f}%", "{} percent"])
def test_per_cents_are_the_very_share(written: str) -> None:
    """Else 95 % would be a hair above a limit of 0.95."""
    for n in (hundredths / 100 for hundredths in range(10_001)):
        assert parse(written.format(n), Dimension.FRACTION) == n / 100


@pytest.mark.parametrize(
    ("text", "dimension", "code"),
    [
        ("20.7", Dimension.TEMPERATURE, "unit_missing"),
        (20.7, Dimension.TEMPERATURE, "unit_missing"),
        (True, Dimension.FRACTION, "unit_missing"),
        (None, Dimension.LENGTH, "unit_missing"),
        (["40 mm"], Dimension.LENGTH, "unit_missing"),
        ("40 kg", Dimension.LENGTH, "unit_wrong"),
        ("20 %", Dimension.TEMPERATURE, "unit_wrong"),
        ("3 degC", Dimension.FRACTION, "unit_wrong"),
        ("40 millimetrs", Dimension.LENGTH, "unit_unknown"),
        ("40 mm/", Dimension.LENGTH, "unit_unknown"),
        ("1/4/2 in", Dimension.LENGTH, "unit_unknown"),
        ("1/0 in", Dimension.LENGTH, "unit_unknown"),
        ("1,5 mm", Dimension.LENGTH, "unit_unknown"),
        ("1 9**9**9**9 m", Dimension.LENGTH, "unit_unknown"),
        ("1 m**9**9**9**9", Dimension.LENGTH, "unit_unknown"),
        ("1 m*(9^9^9^9)", Dimension.LENGTH, "unit_unknown"),
        ("1 m * 9⁹⁹⁹⁹⁹⁹⁹⁹⁹⁹", Dimension.LENGTH, "unit_unknown"),
        ("1 m99999999999", Dimension.LENGTH, "unit_unknown"),
        ("1_000 mm", Dimension.LENGTH, "unit_unknown"),
        ("20 A", Dimension.TEMPERATURE, "unit_wrong"),
        ("forty mm", Dimension.LENGTH, "not_a_number"),
        ("", Dimension.LENGTH, "not_a_number"),
        ("mm", Dimension.LENGTH, "not_a_number"),
        ("nan mm", Dimension.LENGTH, "not_finite"),
        ("inf degC", Dimension.TEMPERATURE, "not_finite"),
        ("1e999 mm", Dimension.LENGTH, "not_finite"),
        (math.nan, Dimension.FRACTION, "not_finite"),
    ],
)
def test_what_cannot_be_right_is_told(text: object, dimension: Dimension, code: str) -> None:
    with pytest.raises(BadInput) as caught:
        parse(text, dimension, "zones.height")
    assert caught.value.code == code
    assert caught.value.field == "zones.height"
    assert f"“{text}”" in caught.value.message


def test_an_error_shows_how_to_write_it() -> None:
    with pytest.raises(BadInput) as caught:
        parse("45 %", Dimension.TEMPERATURE)
    assert str(caught.value) == "“45 %” is not a temperature. Write it like 20.7 degC or 69 degF."


def test_a_difference_is_not_a_temperature() -> None:
    """1.7 degC as a swing would be 274.85 K if it were taken for a temperature."""
    assert parse("1.7 delta_degC", Dimension.TEMPERATURE_DIFFERENCE) == pytest.approx(1.7)
    assert parse("1.7 degC", Dimension.TEMPERATURE) == pytest.approx(274.85)


def test_a_fraction_needs_no_unit() -> None:
    assert parse(0.35, Dimension.FRACTION) == 0.35
    assert parse(1, Dimension.FRACTION) == 1.0


@pytest.mark.parametrize(
    ("value", "unit", "dimension", "expected"),
    [
        (69.0, "degF", Dimension.TEMPERATURE, 293.7055556),
        (45.0, "%", Dimension.FRACTION, 0.45),
        (1.0, "kPa", Dimension.PRESSURE, 1000.0),
        (1e-7, "m", Dimension.LENGTH, 1e-7),
        (-5.0, "degC", Dimension.TEMPERATURE, 268.15),
    ],
)
def test_numbers_are_converted(value: float, unit: str, dimension: Dimension, expected: float) -> None:
    assert convert(value, unit, dimension) == pytest.approx(expected)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_numbers_that_are_none_are_not_converted(value: float) -> None:
    with pytest.raises(BadInput):
        convert(value, "degC", Dimension.TEMPERATURE)


@pytest.mark.parametrize(
    ("value", "dimension", "units", "words"),
    [
        (293.15, Dimension.TEMPERATURE, Units.METRIC, "20.0 °C"),
        (293.15, Dimension.TEMPERATURE, Units.US, "68 °F"),
        (1.7, Dimension.TEMPERATURE_DIFFERENCE, Units.METRIC, "1.7 °C"),
        (1.7, Dimension.TEMPERATURE_DIFFERENCE, Units.US, "3.1 °F"),
        (0.45, Dimension.FRACTION, Units.METRIC, "45 %"),
        (0.6, Dimension.SPEED, Units.METRIC, "0.6 m/s"),
        (0.6, Dimension.SPEED, Units.US, "118 ft/min"),
        (101325.0, Dimension.PRESSURE, Units.METRIC, "1013 hPa"),
        (101325.0, Dimension.PRESSURE, Units.US, "29.92 inHg"),
        (0.0011, Dimension.LENGTH, Units.METRIC, "1.1 mm"),
        (0.0381, Dimension.LENGTH, Units.US, "1.50 in"),
        (4.2, Dimension.MASS, Units.METRIC, "4.20 kg"),
        (4.2, Dimension.MASS, Units.US, "9.3 lb"),
        (1.2, Dimension.AREA_DENSITY, Units.METRIC, "1200 g/m²"),
    ],
)
def test_numbers_are_shown_as_people_read_them(
    value: float, dimension: Dimension, units: Units, words: str
) -> None:
    assert show(value, dimension, units) == words


def test_digits_can_be_asked_for() -> None:
    assert show(0.4567, Dimension.FRACTION, digits=1) == "45.7 %"


@given(
    st.sampled_from(sorted(SHOWN)), st.sampled_from(list(Units)), st.floats(min_value=0.001, max_value=1e4)
)
def test_what_is_shown_reads_back(dimension: Dimension, units: Units, value: float) -> None:
    unit, _, _ = SHOWN[dimension][units]
    shown = float(show(value, dimension, units, digits=9).split()[0])
    assert convert(shown, unit, dimension) == pytest.approx(value, rel=1e-6, abs=1e-5)


class Wax(BaseModel):
    height: LengthM = Field(gt=0, le=5)
    soak: SecondsS = 15.0
    at: TemperatureK = 294.0
    wet: Fraction = 0.35
    wind: SpeedMS | None = None


class TestInModels:
    def test_texts_become_si(self) -> None:
        wax = Wax.model_validate(
            {"height": "40 cm", "soak": "2 min", "at": "21 degC", "wet": "35 %", "wind": "1 km/h"}
        )
        assert wax.height == pytest.approx(0.4)
        assert (wax.soak, wax.at, wax.wet) == pytest.approx((120.0, 294.15, 0.35))
        assert wax.wind == pytest.approx(1 / 3.6)

    def test_defaults_are_si_already(self) -> None:
        assert Wax.model_validate({"height": "1 m"}).soak == 15.0

    def test_none_stays_none(self) -> None:
        assert Wax.model_validate({"height": "1 m", "wind": None}).wind is None

    def test_limits_hold_after_conversion(self) -> None:
        with pytest.raises(ValidationError, match="less than or equal to 5"):
            Wax.model_validate({"height": "501 cm"})
        assert Wax.model_validate({"height": "500 cm"}).height == pytest.approx(5.0)

    def test_the_place_is_known(self) -> None:
        with pytest.raises(ValidationError) as caught:
            Wax.model_validate({"height": "1 kg"})
        assert caught.value.errors()[0]["loc"] == ("height",)


@pytest.mark.parametrize(
    ("text", "inches"),
    [("1/4 in", 0.25), ("5 1/2 in", 5.5), ("5-1/2 in", 5.5), (" 12  3/8in", 12.375), ("10/16 inch", 0.625)],
)
def test_inches_are_read_in_fractions(text: str, inches: float) -> None:
    assert parse(text, Dimension.LENGTH) == pytest.approx(inches * 0.0254)


@pytest.mark.parametrize(
    "text", ["5.5 in", "heron", "", "1/", "/2", "4e-10 m2/s", "1/0 in", "1/2/3 in", "a 1/2 in"]
)
def test_what_is_no_fraction_stays_as_it_is(text: str) -> None:
    assert with_decimals(text) == text


def test_powers_may_stand_apart() -> None:
    assert parse("1650 kilogram / meter ** 3", Dimension.DENSITY) == 1650.0
    with pytest.raises(BadInput, match="a unit coatbell does not know"):
        parse("1 kg / m ** 9 ** 9", Dimension.DENSITY)


@pytest.mark.parametrize(
    ("value", "limit", "told"),
    [
        (0.64, 0.6, ("64 %", "60 %")),
        (0.603, 0.6, ("60.3 %", "60.0 %")),
        (0.39996, 0.4, ("39.996 %", "40.000 %")),
        (0.4 - 1e-9, 0.4, ("40 %", "40 %")),  # nobody could act on so little
        (0.4, 0.4, ("40 %", "40 %")),
    ],
)
def test_a_value_and_its_limit_read_apart(value: float, limit: float, told: tuple[str, str]) -> None:
    assert show_apart(value, limit, Dimension.FRACTION) == told


@pytest.mark.parametrize(
    ("text", "kilograms"),
    [("0.4 kg", 0.4), ("400 ml", 0.39928), ("0.4 litre", 0.39928), ("1 pint", 0.472325), ("1 lb", 0.453592)],
)
def test_water_is_weighed_or_poured(text: str, kilograms: float) -> None:
    assert water_mass(text) == pytest.approx(kilograms, rel=1e-5)


@pytest.mark.parametrize(
    ("text", "code"),
    [("3 m", "unit_wrong"), ("400", "unit_missing"), ("a jug", "not_a_number"), (4, "unit_missing")],
)
def test_what_is_no_amount_of_water(text: object, code: str) -> None:
    with pytest.raises(BadInput) as told:
        water_mass(text, "water")
    assert (told.value.code, told.value.field) == (code, "water")


@pytest.mark.parametrize(
    ("text", "litres_a_day"),
    [
        ("20 l/day", 20.0),
        ("20 litres/day", 20.0),
        ("42 pint/day", 42 * 0.473176473),
        ("0.5 kg/h", 12.0 / 0.9982),
    ],
)
def test_water_in_a_time_is_poured_or_weighed(text: str, litres_a_day: float) -> None:
    """A US pint is 0.473176473 l (SP 811, appendix B)."""
    assert water_flow(text) * 86400 == pytest.approx(litres_a_day * 0.9982)


@pytest.mark.parametrize("text", ["20 m", "20", "wet", 20.0, "20 l", "5 quack/day"])
def test_what_is_no_water_in_a_time(text: object) -> None:
    with pytest.raises(BadInput) as told:
        water_flow(text, "takes")
    assert told.value.field == "takes"
    assert "20 l/day" in told.value.todo
