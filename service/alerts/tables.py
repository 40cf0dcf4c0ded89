"""The tables of alerts.toml, value by value: what holds, and where it comes from. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from service.alerts.in_force import CONSOLE_TABLE, ON
from service.alerts.people import Part as TablePart
from service.alerts.rules import AlertRules
from service.toml_files import check_entry, dimension_of
from service.units import Dimension


class Origin(StrEnum):
    """Where a value comes from."""

    DEFAULT = "default"
    FILE = "file"
    HERE = "here"


@dataclass(frozen=True, slots=True)
class Value:
    """One value. before: what would hold without what was set up here; `before_in_file`: alerts.toml says so."""

    key: str
    now: Any
    before: Any
    before_in_file: bool
    here: bool
    dimension: Dimension | None = None

    @property
    def origin(self) -> Origin:
        if self.here:
            return Origin.HERE
        return Origin.FILE if self.before_in_file else Origin.DEFAULT


class ConsoleTable(TablePart):
    """The key `console`, as if it stood in a table of its own."""

    on: bool = True


MODELS: dict[str, type[BaseModel]] = {
    CONSOLE_TABLE: ConsoleTable,
    **{
        name: field.annotation
        for name, field in AlertRules.model_fields.items()
        if isinstance(field.annotation, type) and issubclass(field.annotation, TablePart)
    },
}
"""By the table's name."""


def values_of(table: str, in_file: Mapping[str, Any], here: Mapping[str, Any]) -> list[Value]:
    """Each value of a table, in the order of alerts.toml."""
    own = own_table(table, in_file)
    before, now = _read(table, own), _read(table, {**own, **here})
    return [
        Value(key, getattr(now, name), getattr(before, name), key in own, key in here, dimension_of(field))
        for name, key, field in _fields(table)
    ]


def differing(table: str, in_file: Mapping[str, Any], said: Mapping[str, Any]) -> dict[str, Any]:
    """Of what was said, what is other than without it. Raises BadInput naming the key."""
    own = own_table(table, in_file)
    before, now = _read(table, own), _read(table, {**own, **said})
    other = {key for name, key, _ in _fields(table) if getattr(now, name) != getattr(before, name)}
    return {key: value for key, value in said.items() if key in other}


def own_table(table: str, in_file: Mapping[str, Any]) -> Mapping[str, Any]:
    """What alerts.toml says in it."""
    if table == CONSOLE_TABLE:
        return {ON: in_file[CONSOLE_TABLE]} if CONSOLE_TABLE in in_file else {}
    own: Mapping[str, Any] = in_file.get(table, {})
    return own


def _read(table: str, said: Mapping[str, Any]) -> BaseModel:
    return check_entry(said, MODELS[table])


def _fields(table: str) -> Iterator[tuple[str, str, FieldInfo]]:
    for name, field in MODELS[table].model_fields.items():
        yield name, field.alias or name, field
