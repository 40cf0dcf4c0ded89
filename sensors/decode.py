"""From topic and payload to numbers in SI units, or to the reason why not. Never raises."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from sensors.declared import Declaration, Reads, Value
from sensors.message import Message, printable
from sensors.quantities import KINDS
from sensors.text_units import split
from service.errors import BadInput
from service.held import held
from service.reading import Quantity, Reason, Rejected
from service.units import convert

LARGEST_PAYLOAD = 16_384  # bytes; sensors send a few hundred
LONGEST_NAME = 60
MILLISECONDS_FROM = 1e11  # an epoch number above this (year 5138 in seconds) is in milliseconds
NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)(e[+-]?\d+)?", re.ASCII | re.IGNORECASE)
NOT_FINITE = re.compile(r"[+-]?(nan|inf|infinity)", re.ASCII | re.IGNORECASE)
MISSING = object()


@dataclass(frozen=True, slots=True)
class Measured:
    """A number in SI, not yet judged. `sent` is the number as it came, in `unit`.

    own_clock: the sensor stamps its messages; `measured_at` (UTC) is None if the stamp could not be read.
    """

    sensor: str
    quantity: Quantity
    value: float
    sent: float
    unit: str
    own_clock: bool = False
    measured_at: datetime | None = None
    every_s: float | None = None


class _Refused(Exception):
    def __init__(self, reason: Reason, words: str) -> None:
        super().__init__(words)
        self.reason = reason
        self.words = words


def decode(declared: Reads, message: Message) -> list[Measured | Rejected]:
    """The values in a message. An ignored topic gives an empty list; what is unusable comes as Rejected."""
    if declared.ignores(message.topic):
        return []
    found = declared.find(message.topic)
    if found is None:
        words = held("No line in sensors.toml reads “{topic}”.", topic=printable(message.topic))
        return [message.rejected(Reason.UNKNOWN_TOPIC, words)]
    declaration, name = found
    try:
        content = _content(declaration, message.payload)
        sensor = _sensor(declaration, name, content)
    except _Refused as refused:
        return [message.rejected(refused.reason, refused.words, name if _is_name(name) else None)]
    return list(_values(declaration, message, content, sensor))


def _values(
    declaration: Declaration, message: Message, content: object, sensor: str
) -> Iterable[Measured | Rejected]:
    sent = [find(content, value.field.split(".") if value.field else ()) for value in declaration.values]
    if all(one is MISSING for one in sent):
        fields = ", ".join(str(value.field) for value in declaration.values)
        yield message.rejected(
            Reason.UNREADABLE, held("None of its fields is there: {fields}.", fields=fields), sensor
        )
        return
    stamp = _stamp(declaration, content)
    for value, one in zip(declaration.values, sent, strict=True):
        if one is MISSING and value.optional:
            continue
        probe = f"{sensor} {value.part}" if value.part else sensor
        try:
            yield _measured(declaration, value, one, probe, stamp)
        except _Refused as refused:
            yield message.rejected(refused.reason, refused.words, probe, value.quantity)


def _measured(
    declaration: Declaration, value: Value, one: object, sensor: str, stamp: datetime | None
) -> Measured:
    if one is MISSING:
        raise _Refused(Reason.UNREADABLE, held("The field {field} is missing.", field=value.field))
    one, unit = _unit_in(one, value)
    number = _number(one)
    return Measured(
        sensor,
        value.quantity,
        _in_si(number, unit, value),
        number,
        unit,
        own_clock=declaration.time_field is not None,
        measured_at=stamp,
        every_s=declaration.every_s,
    )


def _unit_in(one: object, value: Value) -> tuple[object, str]:
    """A text that says its own unit knows better than the declaration, if it is a unit of that quantity."""
    apart = split(one) if isinstance(one, str) else None
    if apart is None or not is_unit_of(apart[1], value.quantity):
        return one, value.unit
    return apart


def is_unit_of(unit: str, quantity: Quantity) -> bool:
    try:
        convert(1.0, unit, KINDS[quantity].dimension)
    except BadInput:
        return False
    return True


def _content(declaration: Declaration, payload: bytes) -> object:
    if len(payload) > LARGEST_PAYLOAD:
        raise _Refused(
            Reason.UNREADABLE,
            held(
                "The message is too long: {number} bytes, {largest_payload} are taken.",
                number=len(payload),
                largest_payload=LARGEST_PAYLOAD,
            ),
        )
    try:
        text = payload.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _Refused(Reason.UNREADABLE, held("The message is not text.")) from error
    if declaration.values[0].field is None:
        return text.strip(' \t\r\n\0"')
    try:
        return json.loads(text.strip(" \t\r\n\0"))
    except (ValueError, RecursionError) as error:
        raise _Refused(Reason.UNREADABLE, held("The message is not JSON.")) from error


def _sensor(declaration: Declaration, name: str, content: object) -> str:
    if declaration.sensor:
        return declaration.sensor
    if declaration.sensor_field:
        given = find(content, declaration.sensor_field.split("."))
        name = str(given) if isinstance(given, str | int) and not isinstance(given, bool) else ""
    name = name.strip()
    if not _is_name(name):
        raise _Refused(
            Reason.UNREADABLE,
            held("It does not name its sensor with 1 to {longest_name} letters.", longest_name=LONGEST_NAME),
        )
    return name


def _is_name(name: str) -> bool:
    return 0 < len(name) <= LONGEST_NAME and name.isprintable() and not name.isspace()


def find(content: object, path: Sequence[str]) -> object:
    """What stands at `path` in decoded JSON, or MISSING. ``*`` is any one name; numbers count list places from 0."""
    if not path:
        return content
    if isinstance(content, dict) and ".".join(path) in content:
        return content[".".join(path)]
    found = (find(child, path[1:]) for child in _children(content, path[0]))
    return next((one for one in found if one is not MISSING), MISSING)


def _children(content: object, name: str) -> list[object]:
    if isinstance(content, dict):
        return list(content.values()) if name == "*" else [content[name]] if name in content else []
    if isinstance(content, list):
        place = int(name) if name.isascii() and name.isdigit() and len(name) < 5 else len(content)
        return content if name == "*" else content[place : place + 1]
    return []


def _number(sent: object) -> float:
    if isinstance(sent, bool) or not isinstance(sent, int | float | str):
        raise _Refused(Reason.UNREADABLE, held("“{sent}” is not a number.", sent=_short(sent)))
    if isinstance(sent, str):
        return _finite(_from_text(sent.strip()))
    try:
        return _finite(float(sent))
    except OverflowError as error:
        raise _Refused(Reason.NOT_FINITE, held("The number is too large.")) from error


def _from_text(text: str) -> float:
    if not NUMBER.fullmatch(text) and not NOT_FINITE.fullmatch(text):
        if NUMBER.fullmatch(text.replace(",", ".")):
            raise _Refused(
                Reason.UNREADABLE,
                held("“{text}” is not a number. Decimals need a point, not a comma.", text=_short(text)),
            )
        raise _Refused(Reason.UNREADABLE, held("“{text}” is not a number.", text=_short(text)))
    return float(text)


def _finite(number: float) -> float:
    if not math.isfinite(number):
        raise _Refused(Reason.NOT_FINITE, held("The sensor had no value to send (not a number)."))
    return number


def _in_si(number: float, unit: str, value: Value) -> float:
    try:
        return convert(number, unit, KINDS[value.quantity].dimension)
    except BadInput as error:
        raise _Refused(Reason.NOT_FINITE, held("The number is too large.")) from error


def _stamp(declaration: Declaration, content: object) -> datetime | None:
    """The sensor's own time: seconds or milliseconds since 1970, or ISO 8601 (UTC if it has no offset)."""
    if declaration.time_field is None:
        return None
    sent = find(content, declaration.time_field.split("."))
    try:
        if isinstance(sent, str) and not NUMBER.fullmatch(sent.strip()):
            at = datetime.fromisoformat(sent.strip())
            return at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
        seconds = _number(sent)
        return datetime.fromtimestamp(seconds / 1000 if seconds > MILLISECONDS_FROM else seconds, UTC)
    except (_Refused, ValueError, OverflowError, OSError):
        return None


def _short(sent: object) -> str:
    if isinstance(sent, dict | list):
        return "{…}" if isinstance(sent, dict) else "[…]"
    return printable("null" if sent is None else str(sent))[:40]
