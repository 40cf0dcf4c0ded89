"""The form that says what is in a message: from a proposal to fields, and from fields to a table of sensors.toml."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from api.asked import Form
from service import words
from service.errors import BadInput
from service.listening import Guess, Proposal, Tried
from service.reading import Quantity
from service.records.shop_facts import Site
from service.voice import later, say
from service.words.numbers import quantity_value

QUANTITIES = {
    Quantity.AIR_TEMPERATURE: later("air temperature"),
    Quantity.RELATIVE_HUMIDITY: later("humidity"),
    Quantity.AIR_SPEED: later("air speed"),
    Quantity.PRESSURE: later("air pressure"),
    Quantity.SURFACE_TEMPERATURE: later("temperature of a surface"),
    Quantity.WEIGHT: later("weight"),
}
MEANINGS = {
    "air_temperature|degC": later("air temperature in °C"),
    "air_temperature|degF": later("air temperature in °F"),
    "relative_humidity|%": later("humidity in %"),
    "relative_humidity|": later("humidity as a share, 0 to 1"),
    "air_speed|m/s": later("air speed in m/s"),
    "air_speed|ft/min": later("air speed in ft/min"),
    "pressure|hPa": later("air pressure in hPa"),
    "pressure|Pa": later("air pressure in Pa"),
    "pressure|inHg": later("air pressure in inHg"),
    "weight|kg": later("weight in kg"),
    "weight|g": later("weight in g"),
    "weight|lb": later("weight in lb"),
    "surface_temperature|degC": later("temperature of a surface in °C"),
    "surface_temperature|degF": later("temperature of a surface in °F"),
}
SI_SIGN = {
    Quantity.AIR_TEMPERATURE: "K",
    Quantity.SURFACE_TEMPERATURE: "K",
    Quantity.AIR_SPEED: "m/s",
    Quantity.PRESSURE: "Pa",
    Quantity.WEIGHT: "kg",
}
NO_ROOM_NEEDED = {Quantity.WEIGHT, Quantity.SURFACE_TEMPERATURE}
CARRIED = ("sensor_field", "every", "time_field")
"""What a description in sensors.toml may say besides; it stays when it is changed here."""


@dataclass(frozen=True, slots=True)
class Row:
    """One number of the message in the form. meaning: a key of MEANINGS, or "": not read."""

    number: int
    field: str
    sent: str
    meaning: str
    part: str

    @property
    def label(self) -> str:
        return self.field or say("the whole message")


def rows_of(proposal: Proposal, form: Form | None = None) -> list[Row]:
    """As guessed, or as the form says."""
    return [_row(number, guess, form) for number, guess in enumerate(proposal.guesses)]


def _row(number: int, guess: Guess, form: Form | None) -> Row:
    meaning = f"{guess.quantity.value}|{guess.unit}" if guess.quantity else ""
    field, part = guess.field or "", guess.part or ""
    if form is not None:
        meaning, part = form[f"meaning-{number}"], form[f"part-{number}"]
        field = form[f"field-{number}"] or field
    return Row(number, field, guess.sent, meaning, part)


def meanings(rows: Sequence[Row]) -> list[tuple[str, str]]:
    """To choose from, with what the file says in units of its own."""
    own = {
        row.meaning: row.meaning.replace("|", " ")
        for row in rows
        if row.meaning and row.meaning not in MEANINGS
    }
    return [("", say("not read")), *((key, say(words)) for key, words in MEANINGS.items()), *own.items()]


def table_of(proposal: Proposal, rows: Sequence[Row], form: Form) -> dict[str, Any]:
    """As sensors.toml has it. Raises BadInput where nothing is to be read."""
    chosen = [row for row in rows if row.meaning]
    if not chosen:
        raise BadInput(
            "nothing_chosen",
            say("No number of this message is to be read."),
            say("Say of at least one what it is."),
            "meaning-0",
        )
    kept: Mapping[str, Any] = proposal.read or {}
    table = {key: kept[key] for key in CARRIED if key in kept}
    if "sensor_field" not in kept:
        table["sensor"] = form.need("sensor", say("Name of the sensor"))
    values = [_value(row, kept, several=len(chosen) > 1) for row in chosen]
    return {"pattern": proposal.heard.topic, **table, "values": values}


def _value(row: Row, kept: Mapping[str, Any], several: bool) -> dict[str, Any]:
    quantity, _, unit = row.meaning.partition("|")
    was: Mapping[str, Any] = next(
        (value for value in kept.get("values", ()) if value.get("field", "") == row.field), {}
    )
    optional = was.get("optional", several)  # many leave out what did not change
    said = {"field": row.field, "part": row.part, "optional": optional and bool(row.field)}
    return {"quantity": quantity, "unit": unit, **{key: value for key, value in said.items() if value}}


def decoded_line(tried: Tried, site: Site | None) -> str:
    """``21.4 °C, air temperature (294.55 K); plausible``."""
    if tried.value is None or tried.quantity is None:
        return say("Cannot be read: {why}", why=tried.words)
    shown, what = quantity_value(tried.quantity, tried.value, site), say(QUANTITIES[tried.quantity])
    if not tried.plausible:
        return say("{value}, {what}: implausible. Is the unit right?", value=shown, what=what)
    if tried.quantity not in SI_SIGN:
        return say("{value}, {what}; plausible.", value=shown, what=what)
    inside = f"{tried.value:.6g} {SI_SIGN[tried.quantity]}"
    return say("{value}, {what}; plausible. Kept as {si}.", value=shown, what=what, si=inside)


def often_line(every_s: float | None) -> str:
    """How often a topic comes."""
    if every_s is None:
        return say("Came once so far.")
    if every_s < 90:
        return say("Comes about every {seconds} s.", seconds=max(round(every_s), 1))
    return say("Comes about every {span}.", span=words.span(every_s))


def of_air(rows: Sequence[Row]) -> bool:
    """Whether any of it says something of a room."""
    read = {Quantity(row.meaning.partition("|")[0]) for row in rows if row.meaning}
    return bool(read - NO_ROOM_NEEDED)
