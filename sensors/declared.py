"""sensors.toml: which messages carry which quantities, in which unit and field."""

from __future__ import annotations

from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Annotated, Protocol, Self, TypeVar

from pydantic import AfterValidator, Field, model_validator

from sensors import topics
from sensors.quantities import KINDS
from service.errors import BadInput
from service.reading import Quantity
from service.settings import Part, read_toml
from service.units import Dimension, SecondsS, convert
from service.voice import say

Model = TypeVar("Model", bound=Part)

UNITS = {
    Dimension.TEMPERATURE: '"degC" or "degF"',
    Dimension.FRACTION: '"%" or "" (for 0 to 1)',
    Dimension.SPEED: '"m/s" or "ft/min"',
    Dimension.PRESSURE: '"Pa", "hPa" or "inHg"',
    Dimension.MASS: '"kg", "g" or "lb"',
}


def _check_pattern(pattern: str) -> str:
    if wrong := topics.problem(pattern):
        raise BadInput(
            "topic_wrong",
            f"“{pattern}” {wrong}.",
            say('Write it like "shop/{sensor}/air".'),
        )
    return pattern


def _check_path(path: str) -> str:
    if not all(path.split(".")):
        raise BadInput(
            "field_wrong",
            say("“{path}” has an empty name in it.", path=path),
            say('Write it like "temperature" or "air.temperature".'),
        )
    return path


def _check_some(given: tuple[Model, ...]) -> tuple[Model, ...]:
    # Not min_length: pydantic would complain of it beside every mistake inside.
    if not given:
        raise BadInput(
            "none_given", say("There is nothing in it."), say("Add one, as in the shipped sensors.toml.")
        )
    return given


Pattern = Annotated[str, AfterValidator(_check_pattern), Field(examples=['"shop/{sensor}/air"'])]
FieldPath = Annotated[str, AfterValidator(_check_path), Field(examples=['"air.temperature"'])]


class Value(Part):
    """One number in a message. No `field`: the whole payload is the number."""

    quantity: Quantity
    unit: str = Field(examples=['"degC"'])
    field: FieldPath | None = None
    optional: bool = False  # some sensors send it, some do not
    part: str | None = Field(default=None, min_length=1, max_length=20)  # one of several probes: "bench left"

    @model_validator(mode="after")
    def _check_unit(self) -> Self:
        kind = KINDS[self.quantity]
        try:
            if "delta" in self.unit:
                raise BadInput("unit_wrong", say("A difference is no temperature."), say("Leave delta out."))
            convert(1.0, self.unit, kind.dimension)
        except BadInput as error:
            raise BadInput(
                "unit_wrong",
                say("“{unit}” is not a unit of {kind}.", unit=self.unit, kind=say(kind.words)),
                say("Write {units}.", units=UNITS[kind.dimension]),
            ) from error
        return self


class Declaration(Part):
    """Messages of one shape.

    The sensor's name is the topic level at ``{sensor}``, or `sensor`, or what stands in the JSON field `sensor_field`.
    """

    pattern: Pattern
    values: Annotated[tuple[Value, ...], AfterValidator(_check_some)]
    sensor: str | None = Field(default=None, min_length=1, max_length=60)
    sensor_field: FieldPath | None = None
    every_s: SecondsS | None = Field(default=None, ge=1, le=86400, alias="every")
    time_field: FieldPath | None = None

    @model_validator(mode="after")
    def _check_name(self) -> Self:
        if [topics.SENSOR in self.pattern, bool(self.sensor), bool(self.sensor_field)].count(True) != 1:
            raise BadInput(
                "sensor_unnamed",
                say("“{pattern}” must say in exactly one way which sensor sent it.", pattern=self.pattern),
                say(
                    "Put {sensor} in the pattern, or add sensor = a name, or sensor_field = where the JSON has it."
                ),
            )
        return self

    @model_validator(mode="after")
    def _check_fields(self) -> Self:
        plain = [value for value in self.values if value.field is None]
        if plain and (len(self.values) > 1 or self.sensor_field or self.time_field):
            raise BadInput(
                "field_missing",
                say(
                    "“{pattern}” reads JSON, but the {quantity} has no field.",
                    pattern=self.pattern,
                    quantity=say(KINDS[plain[0].quantity].words),
                ),
                say('Add field = "…" with its name in the JSON.'),
            )
        return self

    @model_validator(mode="after")
    def _check_once(self) -> Self:
        named = [(value.quantity, value.part) for value in self.values]
        twice = next((quantity for quantity, part in named if named.count((quantity, part)) > 1), None)
        if twice:
            raise BadInput(
                "value_twice",
                say(
                    "“{pattern}” gives {quantity} twice.",
                    pattern=self.pattern,
                    quantity=say(KINDS[twice].words),
                ),
                say('Tell the probes apart with part = "left" and part = "right", or take one out.'),
            )
        return self


class Reads(Protocol):
    """Whatever says which messages carry which quantities."""

    def ignores(self, topic: str) -> bool: ...

    def find(self, topic: str) -> tuple[Declaration, str] | None: ...


class Declared(Part):
    """sensors.toml. The first declaration that fits a topic reads it; topics in `ignore` are passed over."""

    listen: tuple[Pattern, ...] = ()
    ignore: tuple[Pattern, ...] = ()
    messages: Annotated[tuple[Declaration, ...], AfterValidator(_check_some)]

    @model_validator(mode="after")
    def _check_each_is_read(self) -> Self:
        for i, late in enumerate(self.messages):
            early = next((d for d in self.messages[:i] if topics.covers(d.pattern, late.pattern)), None)
            if early is not None:
                raise _never_read(early.pattern, late.pattern)
        return self

    def ignores(self, topic: str) -> bool:
        return any(topics.match(pattern, topic) is not None for pattern in self.ignore)

    def find(self, topic: str) -> tuple[Declaration, str] | None:
        """The declaration that reads `topic` and the sensor named in the topic ("": named elsewhere)."""
        for declaration in self.messages:
            name = topics.match(declaration.pattern, topic)
            if name is not None:
                return declaration, name
        return None

    @property
    def filters(self) -> list[str]:
        """What to subscribe to: every pattern, and `listen` for what nobody declared, without overlaps."""
        wanted = [*self.listen, *(declaration.pattern for declaration in self.messages)]
        return topics.least([topics.as_filter(pattern) for pattern in wanted])


def _never_read(early: str, late: str) -> BadInput:
    same = early == late
    return BadInput(
        "never_read",
        say("“{late}” stands there twice: the second is never read.", late=late)
        if same
        else say(
            "“{late}” is never read: “{early}” stands before it and reads all its messages.",
            late=late,
            early=early,
        ),
        say("Put the values of both under one.") if same else say("Put it before that one."),
        "messages",
    )


def read_declared(path: Path | Traversable) -> Declared:
    """Read sensors.toml. Raises BadInput naming the file, the key, what is wrong and what to do."""
    return read_toml(path, Declared)
