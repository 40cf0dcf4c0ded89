"""The border between units people use and the SI floats inside. The one pint registry lives here."""

from __future__ import annotations

import math
import re
from enum import StrEnum
from functools import partial
from typing import Annotated

import pint
from pydantic import BeforeValidator

from service.errors import BadInput
from service.voice import later, say

registry: pint.UnitRegistry[float] = pint.UnitRegistry(cache_folder=None)


class Dimension(StrEnum):
    """A kind of quantity; the value is the SI unit used inside."""

    TEMPERATURE = "kelvin"
    TEMPERATURE_DIFFERENCE = "delta_degC"
    FRACTION = "dimensionless"
    SPEED = "meter / second"
    PRESSURE = "pascal"
    LENGTH = "meter"
    MASS = "kilogram"
    VOLUME = "meter ** 3"
    TIME = "second"
    DENSITY = "kilogram / meter ** 3"
    AREA_DENSITY = "kilogram / meter ** 2"
    DIFFUSIVITY = "meter ** 2 / second"
    SORPTIVITY = "kilogram / meter ** 2 / second ** 0.5"
    MOLAR_ENERGY = "joule / mole"
    SPECIFIC_ENERGY = "joule / kilogram"
    AREA_HEAT_CAPACITY = "joule / meter ** 2 / delta_degC"
    SPECIFIC_HEAT = "joule / kilogram / delta_degC"
    DATA_SIZE = "byte"
    AREA = "meter ** 2"
    POWER = "watt"
    WATER_FLOW = "kilogram / second"


EXAMPLES = {
    Dimension.TEMPERATURE: later("20.7 degC or 69 degF"),
    Dimension.TEMPERATURE_DIFFERENCE: later("1.7 delta_degC or 3 delta_degF"),
    Dimension.FRACTION: later("45 % or 0.45"),
    Dimension.SPEED: "0.6 m/s",
    Dimension.PRESSURE: later("101325 Pa or 1013 hPa"),
    Dimension.LENGTH: later("40 mm or 1.5 in"),
    Dimension.MASS: later("4.2 kg or 9 lb"),
    Dimension.VOLUME: later("400 ml or 1 pint"),
    Dimension.TIME: later("15 s or 2 h"),
    Dimension.DENSITY: "1650 kg/m3",
    Dimension.DIFFUSIVITY: "4e-10 m2/s",
    Dimension.SORPTIVITY: "0.05 kg/m2/s**0.5",
    Dimension.MOLAR_ENERGY: "18 kJ/mol",
    Dimension.SPECIFIC_ENERGY: "2450 kJ/kg",
    Dimension.AREA_HEAT_CAPACITY: "9500 J/m2/K",
    Dimension.SPECIFIC_HEAT: "900 J/kg/K",
    Dimension.DATA_SIZE: later("4 GB or 500 MB"),
    Dimension.AREA: later("0.3 m2 or 3 ft2"),
    Dimension.POWER: later("2 kW or 7000 BTU/h"),
    Dimension.WATER_FLOW: "20 kg/day",
}
KINDS = {
    Dimension.TEMPERATURE: later("a temperature"),
    Dimension.TEMPERATURE_DIFFERENCE: later("a temperature difference"),
    Dimension.FRACTION: later("a fraction"),
    Dimension.SPEED: later("a speed"),
    Dimension.PRESSURE: later("a pressure"),
    Dimension.LENGTH: later("a length"),
    Dimension.MASS: later("a mass"),
    Dimension.VOLUME: later("a volume"),
    Dimension.TIME: later("a time"),
    Dimension.DENSITY: later("a density"),
    Dimension.AREA_DENSITY: later("an area density"),
    Dimension.DIFFUSIVITY: later("a diffusivity"),
    Dimension.SORPTIVITY: later("a sorptivity"),
    Dimension.MOLAR_ENERGY: later("a molar energy"),
    Dimension.SPECIFIC_ENERGY: later("a specific energy"),
    Dimension.AREA_HEAT_CAPACITY: later("an area heat capacity"),
    Dimension.SPECIFIC_HEAT: later("a specific heat"),
    Dimension.DATA_SIZE: later("a data size"),
    Dimension.AREA: later("an area"),
    Dimension.POWER: later("a power"),
    Dimension.WATER_FLOW: later("an amount of water a day"),
}


LONGEST = 60
POWER = re.compile(r"(?<=[^\W\d])(\*\*|\^)?-?\d(\.\d)?(?![\d.*^])|(?<=[^\W\d])[²³]")
POUNDS_AND_OUNCES = re.compile(
    r"(\d+)\s*(?:lbs?|pounds?)[\s,]*(\d+(?:\.\d+)?)\s*(?:oz|ounces?)", re.ASCII | re.IGNORECASE
)
"""``9 lb 4 oz``, as scales in pounds are read."""
FRACTION = re.compile(r"\s*(?:(\d+)[\s-]+)?(\d+)/([1-9]\d*)(?![\d/])", re.ASCII)


class Units(StrEnum):
    """How a person likes to see numbers."""

    METRIC = "metric"
    US = "us"


def parse(text: object, dimension: Dimension, field: str | None = None) -> float:
    """Read ``"20.7 degC"`` as a float in the SI unit of `dimension`.

    Raises BadInput, in the user's words, when the unit is missing, unknown or of another kind, or the number
    is not finite. A plain number is taken only for a fraction, where no unit is needed.
    """
    if dimension is Dimension.FRACTION and isinstance(text, int | float) and not isinstance(text, bool):
        return _finite(float(text), str(text), dimension, field)
    if not isinstance(text, str):
        raise BadInput(
            "unit_missing",
            say("“{text}” has no unit.", text=text),
            say("Write it with one, such as {example}.", example=_example(dimension)),
            field,
        )
    if dimension is Dimension.MASS and (parts := POUNDS_AND_OUNCES.fullmatch(text.strip())):
        return sum(parse(part, dimension, field) for part in (f"{parts[1]} lb", f"{parts[2]} oz"))
    number, unit = _split(text, dimension, field)
    if unit == "percent" and dimension is Dimension.FRACTION:
        return _finite(number / 100, text, dimension, field)  # pint's times 0.01 makes 95 % a hair too much
    try:
        value = registry.Quantity(number, unit).to(dimension.value).magnitude
    except pint.DimensionalityError as error:
        raise BadInput(
            "unit_wrong",
            say("“{text}” is not {kind}.", text=text, kind=_kind(dimension)),
            say("Write it like {example}.", example=_example(dimension)),
            field,
        ) from error
    return _finite(float(value), text, dimension, field)


WATER_KG_M3 = 998.2
"""Of water at 20 degC under one atmosphere (CRC Handbook of Chemistry and Physics; from memory)."""


def water_mass(text: object, field: str | None = None) -> float:
    """Water as it is weighed or poured, ``"0.4 kg"`` or ``"400 ml"``, in kg. Raises BadInput as `parse` does."""
    try:
        return parse(text, Dimension.MASS, field)
    except BadInput as problem:
        if problem.code != "unit_wrong":
            raise
    try:
        return parse(text, Dimension.VOLUME, field) * WATER_KG_M3
    except BadInput as problem:
        raise BadInput(
            "unit_wrong",
            say("“{text}” is no amount of water.", text=text),
            say("Write it like 400 ml or 0.4 kg."),
            field,
        ) from problem


def water_flow(text: object, field: str | None = None) -> float:
    """Water in a time, ``"20 l/day"`` or ``"0.4 kg/h"``, in kg/s. Raises BadInput as `parse` does."""
    try:
        return parse(text, Dimension.WATER_FLOW, field)
    except BadInput as problem:
        problem.todo = say("Write it like 20 l/day or 42 pint/day.")
        if problem.code != "unit_wrong":
            raise
        wrong = problem
    try:
        value = registry.Quantity(*_split(str(text), Dimension.WATER_FLOW, field)).to("meter ** 3 / second")
    except pint.DimensionalityError as error:
        raise wrong from error
    return _finite(float(value.magnitude), str(text), Dimension.WATER_FLOW, field) * WATER_KG_M3


def with_decimals(text: str) -> str:
    """``5.5 in`` from ``5 1/2 in``, as rulers in inches are read; any other text as it is."""
    found = FRACTION.match(text)
    if found is None:
        return text
    return f"{int(found[1] or 0) + int(found[2]) / int(found[3])!r}{text[found.end() :]}"


def convert(value: float, unit: str, dimension: Dimension) -> float:
    """Bring a number in `unit` to the SI unit of `dimension`; errors as in `parse`."""
    return parse(f"{value!r} {unit}", dimension)


def _split(text: str, dimension: Dimension, field: str | None) -> tuple[float, str]:
    if len(text) > LONGEST:
        raise BadInput(
            "value_too_long",
            say("“{text}…” is too long for a number with its unit.", text=text[:20]),
            say("Write it like {example}.", example=_example(dimension)),
            field,
        )
    head = with_decimals(text.strip())
    end = next((i for i in range(len(head), 0, -1) if _is_number(head[:i])), 0)
    if end == 0:
        raise BadInput(
            "not_a_number",
            say("“{text}” does not start with a number.", text=text),
            say("Write it like {example}.", example=_example(dimension)),
            field,
        )
    if dimension is Dimension.TEMPERATURE and (letter := head[end:].strip().upper()) in ("C", "F"):
        return float(head[:end]), f"deg{letter}"  # to pint they are coulombs and farads
    unit = re.sub(r"(?<=[A-Za-z])([23])\b", r"**\1", head[end:].strip().replace("%", "percent"))
    if not unit and dimension is not Dimension.FRACTION:
        raise BadInput(
            "unit_missing",
            say("“{text}” has no unit.", text=text),
            say("Write it with one, such as {example}.", example=_example(dimension)),
            field,
        )
    try:
        registry.Unit(_without_sums(unit) or "dimensionless")
    except Exception as error:  # pint raises many kinds for text that is no unit
        raise BadInput(
            "unit_unknown",
            say("“{text}” has a unit coatbell does not know.", text=text),
            say("Write it like {example}.", example=_example(dimension)),
            field,
        ) from error
    return float(head[:end]), unit or "dimensionless"


def _without_sums(unit: str) -> str:
    """A unit holds no digits but its powers. Raises ValueError: pint would work out 9**9**9**9 for ever."""
    tight = re.sub(r"\s*(\*\*|\^)\s*", r"\1", unit)
    if any(letter.isnumeric() for letter in POWER.sub("", tight)):
        raise ValueError(unit)
    return unit


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return not text[-1].isspace() and "_" not in text


def _finite(value: float, text: str, dimension: Dimension, field: str | None) -> float:
    if not math.isfinite(value):
        raise BadInput(
            "not_finite",
            say("“{text}” is not a usable number.", text=text),
            say("Write it like {example}.", example=_example(dimension)),
            field,
        )
    return value


def _kind(dimension: Dimension) -> str:
    return say(KINDS[dimension])


def _example(dimension: Dimension) -> str:
    return say(EXAMPLES[dimension]) if dimension in EXAMPLES else f"1 {dimension.value}"


SHOWN: dict[Dimension, dict[Units, tuple[str, str, int]]] = {
    Dimension.TEMPERATURE: {Units.METRIC: ("degC", "°C", 1), Units.US: ("degF", "°F", 0)},
    Dimension.TEMPERATURE_DIFFERENCE: {
        Units.METRIC: ("delta_degC", "°C", 1),
        Units.US: ("delta_degF", "°F", 1),
    },
    Dimension.FRACTION: {Units.METRIC: ("percent", "%", 0), Units.US: ("percent", "%", 0)},
    Dimension.SPEED: {Units.METRIC: ("m/s", "m/s", 1), Units.US: ("ft/min", "ft/min", 0)},
    Dimension.PRESSURE: {Units.METRIC: ("hPa", "hPa", 0), Units.US: ("inHg", "inHg", 2)},
    Dimension.LENGTH: {Units.METRIC: ("mm", "mm", 1), Units.US: ("inch", "in", 2)},
    Dimension.MASS: {Units.METRIC: ("kg", "kg", 2), Units.US: ("lb", "lb", 1)},
    Dimension.DENSITY: {Units.METRIC: ("g/cm**3", "g/cm³", 2), Units.US: ("lb/gallon", "lb/gal", 2)},
    Dimension.AREA_DENSITY: {Units.METRIC: ("g/m**2", "g/m²", 0), Units.US: ("oz/ft**2", "oz/ft²", 2)},
    Dimension.VOLUME: {Units.METRIC: ("m**3", "m³", 1), Units.US: ("ft**3", "ft³", 0)},
    Dimension.AREA: {Units.METRIC: ("m**2", "m²", 2), Units.US: ("ft**2", "ft²", 1)},
    Dimension.POWER: {Units.METRIC: ("W", "W", 0), Units.US: ("W", "W", 0)},
    Dimension.WATER_FLOW: {Units.METRIC: ("kg/day", "l/day", 1), Units.US: ("lb/day", "lb/day", 1)},
}


def show(value: float, dimension: Dimension, units: Units = Units.METRIC, digits: int | None = None) -> str:
    """An SI float as people read it: ``show(293.15, TEMPERATURE)`` is ``"20.0 °C"``."""
    unit, sign, places = SHOWN[dimension][units]
    number = registry.Quantity(value, dimension.value).to(unit).magnitude
    return f"{number:.{places if digits is None else digits}f} {sign}"


def _reader(dimension: Dimension) -> BeforeValidator:
    return BeforeValidator(partial(parse, dimension=dimension))


TemperatureK = Annotated[float, _reader(Dimension.TEMPERATURE)]
TemperatureDifferenceK = Annotated[float, _reader(Dimension.TEMPERATURE_DIFFERENCE)]
Fraction = Annotated[float, _reader(Dimension.FRACTION)]
SpeedMS = Annotated[float, _reader(Dimension.SPEED)]
PressurePa = Annotated[float, _reader(Dimension.PRESSURE)]
LengthM = Annotated[float, _reader(Dimension.LENGTH)]
MassKg = Annotated[float, _reader(Dimension.MASS)]
WaterKg = Annotated[float, BeforeValidator(water_mass)]
SecondsS = Annotated[float, _reader(Dimension.TIME)]
DensityKgM3 = Annotated[float, _reader(Dimension.DENSITY)]
DiffusivityM2S = Annotated[float, _reader(Dimension.DIFFUSIVITY)]
SorptivityKgM2S05 = Annotated[float, _reader(Dimension.SORPTIVITY)]
MolarEnergyJMol = Annotated[float, _reader(Dimension.MOLAR_ENERGY)]
SpecificEnergyJKg = Annotated[float, _reader(Dimension.SPECIFIC_ENERGY)]
SpecificHeatJKgK = Annotated[float, _reader(Dimension.SPECIFIC_HEAT)]
VolumeM3 = Annotated[float, _reader(Dimension.VOLUME)]
AreaM2 = Annotated[float, _reader(Dimension.AREA)]
PowerW = Annotated[float, _reader(Dimension.POWER)]
WaterFlowKgS = Annotated[float, BeforeValidator(water_flow)]
DataSizeB = Annotated[float, _reader(Dimension.DATA_SIZE)]
AreaHeatJM2K = Annotated[float, _reader(Dimension.AREA_HEAT_CAPACITY)]


def show_apart(
    value: float, limit: float, dimension: Dimension, units: Units = Units.METRIC
) -> tuple[str, str]:
    """A value and its limit as people read them, with up to three more decimals where they would read the same."""
    least = SHOWN[dimension][units][2]
    pairs = [
        (show(value, dimension, units, places), show(limit, dimension, units, places))
        for places in range(least, least + 4)
    ]
    return next((pair for pair in pairs if pair[0] != pair[1]), pairs[0])
