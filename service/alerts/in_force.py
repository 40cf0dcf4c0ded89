"""What holds now: alerts.toml, and over it what was set up in the browser. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.alerts.rules import AlertRules
from service.errors import BadInput
from service.records.plain import spelling
from service.records.set_up import Part, SetUp
from service.toml_files import check_entry

PARTS = (Part.TELLING, Part.PEOPLE, Part.PLACES)
CONSOLE_TABLE, ON = "console", "on"
"""The one key of alerts.toml that stands in no table, as it is kept."""
Tables = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class LeftOut:
    """What was set up and cannot hold: alerts.toml was changed since."""

    said: SetUp
    why: BadInput


@dataclass(frozen=True, slots=True)
class InForce:
    """The rules, and what had to be left out of them."""

    rules: AlertRules
    left_out: tuple[LeftOut, ...] = ()


def in_force(
    tables: Tables, set_up: Sequence[SetUp], fits: Callable[[AlertRules], object] = lambda rules: None
) -> InForce:
    """What holds. `fits` raises BadInput where somebody's address is none.

    Where not all of it goes together, what does not fit is left out one by one: a shop that cannot start could not be
    put right in the browser.
    """
    try:
        return InForce(checked(laid_over(tables, set_up), fits))
    except BadInput:
        return _one_by_one(tables, set_up, fits)


def checked(tables: Tables, fits: Callable[[AlertRules], object] = lambda rules: None) -> AlertRules:
    """The rules that these tables make. Raises BadInput, in words that name no file."""
    rules = check_entry(tables, AlertRules)
    fits(rules)
    return rules


def laid_over(tables: Tables, set_up: Iterable[SetUp]) -> dict[str, Any]:
    """The tables with all that was set up over them."""
    merged = dict(tables)
    for said in set_up:
        if said.body is not None:
            merged = _laid_over(merged, said, said.body)
    return merged


def _one_by_one(tables: Tables, set_up: Sequence[SetUp], fits: Callable[[AlertRules], object]) -> InForce:
    rules, left_out = checked(tables), []
    for said in set_up:
        try:
            wider = laid_over(tables, [said])
            rules = checked(wider, fits)
            tables = wider
        except BadInput as why:
            left_out.append(LeftOut(said, why))
    return InForce(rules, tuple(left_out))


def _laid_over(tables: Tables, said: SetUp, body: Mapping[str, Any]) -> dict[str, Any]:
    if said.part is Part.TELLING and said.name == CONSOLE_TABLE:
        return {**tables, CONSOLE_TABLE: body.get(ON)}
    if said.part is Part.TELLING:
        return {**tables, said.name: {**tables.get(said.name, {}), **body}}
    listed = list(tables.get(said.part.value, []))
    own = {**body, "name": said.name}
    place = next((n for n, each in enumerate(listed) if is_called(each, said.name)), len(listed))
    listed[place : place + 1] = [own]
    return {**tables, said.part.value: listed}


def is_called(entry: Any, name: str) -> bool:
    """Whether an entry of alerts.toml is somebody's of that name."""
    called = entry.get("name") if isinstance(entry, Mapping) else None
    return isinstance(called, str) and spelling(called.strip()) == spelling(name)
