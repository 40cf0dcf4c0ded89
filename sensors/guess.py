"""What the numbers in a message may be: guessed from their names, their units and where they lie.

A guess is shown and waits for a person to say yes; where nothing speaks for one, none is made.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sensors.decode import MISSING, NUMBER, find, is_unit_of
from sensors.quantities import KINDS
from sensors.text_units import split, unit_spelled
from service.errors import BadInput
from service.listening import Guess
from service.reading import Quantity
from service.units import Units, convert

MOST_NUMBERS = 40
DEEPEST = 6
SHOWN_LETTERS = 40
WORDS = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|\d+")

NAMED = {
    Quantity.WEIGHT: {"weight", "mass", "scale", "load", "kg", "kgs", "lb", "lbs", "gram", "grams"},
    Quantity.RELATIVE_HUMIDITY: {"humidity", "humid", "hum", "rh", "hygro", "moisture"},
    Quantity.PRESSURE: {"pressure", "press", "baro", "barometer", "barometric", "hpa", "inhg", "mbar"},
    Quantity.AIR_SPEED: {
        "speed",
        "airspeed",
        "wind",
        "windspeed",
        "velocity",
        "anemometer",
        "fpm",
        "mps",
        "draught",
    },
    Quantity.AIR_TEMPERATURE: {
        "temperature",
        "temp",
        "temps",
        "tempc",
        "tempf",
        "t",
        "celsius",
        "fahrenheit",
    },
}
ON_A_FACE = {"surface", "surfaces", "probe", "shell", "face", "object", "ir", "infrared", "contact"}
NOT_OF_AIR = {
    "chip",
    "cpu",
    "device",
    "board",
    "internal",
    "soil",
    "dew",
    "dewpoint",
    "target",
    "setpoint",
    "offset",
}
"""Numbers beside a reading that would be taken for one by their name."""

UNIT_WORDS = {
    "degF": {"f", "degf", "fahrenheit", "tempf"},
    "degC": {"c", "degc", "celsius", "tempc"},
    "ft/min": {"fpm"},
    "m/s": {"mps"},
    "hPa": {"hpa", "mbar"},
    "inHg": {"inhg"},
    "Pa": {"pa"},
    "kg": {"kg", "kgs"},
    "lb": {"lb", "lbs"},
    "g": {"g", "gram", "grams"},
    "%": {"percent", "pct"},
}
UNITS_OF = {
    Quantity.AIR_TEMPERATURE: ("degC", "degF"),
    Quantity.SURFACE_TEMPERATURE: ("degC", "degF"),
    Quantity.RELATIVE_HUMIDITY: ("%", ""),
    Quantity.AIR_SPEED: ("m/s", "ft/min"),
    Quantity.PRESSURE: ("hPa", "Pa", "inHg"),
    Quantity.WEIGHT: ("kg", "g", "lb"),
}
US_FIRST = {"degF", "ft/min", "inHg", "lb"}
USUAL = {
    Quantity.AIR_TEMPERATURE: (
        convert(0.0, "degC", KINDS[Quantity.AIR_TEMPERATURE].dimension),
        convert(45.0, "degC", KINDS[Quantity.AIR_TEMPERATURE].dimension),
    ),
    Quantity.RELATIVE_HUMIDITY: (0.05, 1.05),
    Quantity.AIR_SPEED: (0.0, 8.0),
}
"""Where it lies in most sheds: of two units the one in which a number lies there (common practice, no source)."""

NO_NAMES = {
    "air",
    "sensor",
    "sensors",
    "state",
    "status",
    "stat",
    "tele",
    "value",
    "values",
    "data",
    "report",
    "home",
    "shop",
    "reading",
    "readings",
    "measurement",
    "json",
    "mqtt",
    "radio",
    "events",
    "event",
    "env",
    "climate",
    "up",
    "uplink",
}


@dataclass(frozen=True, slots=True)
class Leaf:
    """A number in a message: where it stands, as it was sent, and the unit it says itself."""

    path: tuple[str, ...]
    sent: object
    unit: str | None = None

    @property
    def field(self) -> str | None:
        return ".".join(self.path) or None


def leaves(content: object) -> list[Leaf]:
    """The numbers in decoded JSON, or the one a plain text is; the first forty."""
    found: list[Leaf] = []
    for leaf in _walk(content, (), None):
        if len(found) == MOST_NUMBERS:
            break
        found.append(leaf)
    return found


def _walk(content: object, path: tuple[str, ...], unit: str | None) -> Iterator[Leaf]:
    children = list(_named(content))
    if children and len(path) < DEEPEST:
        for name, child in children:
            yield from _walk(child, (*path, name), _unit_beside(content, name))
        return
    apart = split(content) if isinstance(content, str) else None
    if apart or _is_number(content):
        yield Leaf(path, content, apart[1] if apart else unit)


def _named(content: object) -> Iterator[tuple[str, object]]:
    if isinstance(content, dict):
        yield from ((name, child) for name, child in content.items() if isinstance(name, str) and name)
    elif isinstance(content, list):
        yield from ((str(number), child) for number, child in enumerate(content))


def _unit_beside(content: object, name: str) -> str | None:
    """What a neighbour says: ``{"value": 21.4, "unit": "°C"}``, ``{"temp": 70, "temp_unit": "F"}``."""
    if not isinstance(content, dict):
        return None
    said = next(
        (content[key] for key in (f"{name}_unit", f"{name}Unit", "unit", "units") if key in content), None
    )
    return unit_spelled(said) if isinstance(said, str) else None


def _is_number(content: object) -> bool:
    if isinstance(content, str):
        return NUMBER.fullmatch(content.strip()) is not None
    return isinstance(content, int | float) and not isinstance(content, bool)


def guesses(content: object, topic: str, units: Units) -> list[Guess]:
    """Every number in a message with what it may be. Of two alike the first is proposed, or each by its own name."""
    made = [_guess(leaf, content, topic, units) for leaf in leaves(content)]
    return [_told_apart(guess, made[:number]) for number, guess in enumerate(made)]


def _guess(leaf: Leaf, content: object, topic: str, units: Units) -> Guess:
    quantity = quantity_of(leaf, topic)
    unit = unit_of(leaf, quantity, topic, units) if quantity else ""
    return Guess(_field_of(leaf, content), str(leaf.sent)[:SHOWN_LETTERS], quantity, unit)


def _field_of(leaf: Leaf, content: object) -> str | None:
    """Where the number stands. Inside something named after a chip any name will do: chips are exchanged."""
    if not leaf.path or find(content, leaf.path) is MISSING:
        return leaf.field
    wide = ("*", *leaf.path[1:])
    chip = (
        len(leaf.path) == 2 and any(letter.isdigit() for letter in leaf.path[0]) and isinstance(content, dict)
    )
    alone = [other for other in leaves(content) if other.path[1:] == leaf.path[1:]] == [leaf]
    return ".".join(wide if chip and alone else leaf.path)


def _told_apart(guess: Guess, before: Sequence[Guess]) -> Guess:
    """A board's second temperature is no air's: it is left to a person."""
    twice = guess.quantity and any(other.quantity is guess.quantity for other in before)
    if not twice:
        return guess
    return Guess(
        guess.field, guess.sent, None, guess.unit, (guess.field or "").rpartition(".")[2][:20] or None
    )


def words_of(name: str) -> set[str]:
    """``{"air", "temp", "f"}`` of ``airTemp_F``; also as it is written, for what is no single word."""
    return {word.lower() for word in WORDS.findall(name)} | {name.lower()}


def quantity_of(leaf: Leaf, topic: str) -> Quantity | None:
    """By its own name, then by the names around it, then by its unit alone."""
    names = [*reversed(leaf.path), *(reversed(topic.split("/")) if not leaf.path else ())]
    around = set[str]().union(*(words_of(name) for name in (*leaf.path, *topic.split("/"))))
    for name in names:
        if words_of(name) & NOT_OF_AIR:
            return None
        found = next((quantity for quantity, words in NAMED.items() if words & words_of(name)), None)
        if found is Quantity.AIR_TEMPERATURE and around & ON_A_FACE:
            return Quantity.SURFACE_TEMPERATURE
        if found:
            return found
    return _by_unit(leaf.unit)


def _by_unit(unit: str | None) -> Quantity | None:
    by = {
        "degC": Quantity.AIR_TEMPERATURE,
        "degF": Quantity.AIR_TEMPERATURE,
        "kg": Quantity.WEIGHT,
        "lb": Quantity.WEIGHT,
    }
    pressure = dict.fromkeys(("hPa", "Pa", "inHg"), Quantity.PRESSURE)
    return (by | pressure | {"m/s": Quantity.AIR_SPEED, "ft/min": Quantity.AIR_SPEED}).get(unit or "")


def unit_of(leaf: Leaf, quantity: Quantity, topic: str, units: Units) -> str:
    """As the message says it, as its name says it, or the one in which the number lies where it mostly does."""
    if leaf.unit and is_unit_of(leaf.unit, quantity):
        return leaf.unit
    names = words_of(leaf.path[-1]) if leaf.path else words_of(topic.rpartition("/")[2])
    likely = sorted(UNITS_OF[quantity], key=lambda unit: units is Units.US and unit not in US_FIRST)
    named = [unit for unit in likely if names & UNIT_WORDS.get(unit, set())]
    return next((unit for unit in (*named, *likely) if named or _usual(leaf.sent, unit, quantity)), likely[0])


def _usual(sent: object, unit: str, quantity: Quantity) -> bool:
    kind = KINDS[quantity]
    lowest, highest = USUAL.get(quantity, (kind.lowest, kind.highest))
    try:
        return (
            lowest
            <= convert(float((split(str(sent)) or (str(sent), ""))[0]), unit, kind.dimension)
            <= highest
        )
    except (BadInput, ValueError, OverflowError):
        return False


def sensor_name(topic: str) -> str:
    """The level of the topic that names the sensor, as far as one can tell: the last that is no quantity."""
    common = NO_NAMES.union(*NAMED.values(), *UNIT_WORDS.values())
    levels = [level.strip() for level in topic.split("/") if level.strip()]
    own = [level for level in levels if not words_of(level) & common]
    chosen = (own or levels or ["sensor"])[-1]
    return "".join(letter for letter in chosen if letter.isprintable())[:60] or "sensor"
