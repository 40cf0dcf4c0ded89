"""A case with nothing left open: what a case file says, filled up with what holds when it is silent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from typing import TypeVar

import numpy as np
from pydantic import BaseModel

from service.drying.shell import Coat, Parameters, ZoneShape
from service.drying.weather import AirSeries
from service.errors import BadInput
from service.estimate.air_file import Column, no_column, read_air_file
from service.estimate.case_file import (
    MOST_COATS,
    CaseFile,
    CaseParameters,
    CoatCase,
    DippingCase,
    ZoneCase,
)
from service.estimate.evidence import Mould, Told, told
from service.records.recipe_files import RecipeShelf, read_recipe
from service.records.recipes import CoatKind, CoatStep, Recipe
from service.settings import CoatSettings, DryingFile, SiteFile, config_file, read_toml
from service.toml_files import read_text
from service.units import Dimension, Units, parse
from service.voice import say

Settled = TypeVar("Settled", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class CoatPlan:
    """One coat to be given, and what is waited for after it."""

    kind: CoatKind
    coat: Coat
    immersion_s: float
    ready_saturation: float
    least_wait_s: float = 0.0
    longest_wait_s: float | None = None


@dataclass(frozen=True, slots=True)
class Case:
    """What to work out. Times are seconds from the start of the air.

    dips_s: when coats go on, from the first; those left out when the coat before is ready, and the first at `first_s`
    where all are.
    began: the date and hour of second 0, if the air has dates. told: what was heard of the mould.
    """

    title: str
    units: Units
    zones: tuple[tuple[str, ZoneShape], ...]
    coats: tuple[CoatPlan, ...]
    air: AirSeries
    first_s: float
    dips_s: tuple[float, ...] | None
    parameters: Parameters
    water_limit: float
    final_wait_s: float = 0.0
    began: datetime | None = None
    told: Told = field(default_factory=Told)


def read_case(path: Path, configs: Path | None = None) -> Case:
    """Read a case file; files it names lie beside it.

    configs: the shop's own settings folder, for its drying.toml and recipes.
    Raises BadInput, in words naming file and key, for anything that cannot be right; NotFound for an unknown recipe.
    """
    written = read_toml(path, CaseFile)
    shop = read_toml(config_file(configs, "drying.toml"), DryingFile)
    usual = overlay(shop.coat, written.parameters)
    recipe = _recipe(written.recipe, path.parent, configs) if written.recipe else None
    coats = _asked(recipe, written.parameters) if recipe else _listed(written.coats or (), usual)
    if len(coats) > MOST_COATS:
        raise BadInput(
            "coats_too_many",
            say("{path}: {number} coats.", path=path.name, number=len(coats)),
            say("Give at most {most_coats}.", most_coats=MOST_COATS),
            "coats",
        )
    air, began = _air(written, path.parent)
    limit_written = "water_limit" in written.parameters.model_fields_set
    zones, first_s = (
        _zones(written.zones, path.name),
        _moment(written.dipping.first, began, path.name, "dipping.first"),
    )
    dips_s = _dips(written.dipping, len(coats), began, path.name)
    return Case(
        title=written.title or path.stem,
        units=written.units,
        zones=zones,
        coats=coats,
        air=air,
        first_s=first_s,
        dips_s=dips_s,
        told=_told(written, [name for name, _ in zones], dips_s, began, path.name),
        parameters=overlay(shop.parameters, written.parameters).parameters(),
        water_limit=recipe.final_dry.water_limit if recipe and not limit_written else usual.water_limit,
        final_wait_s=recipe.final_dry.least_wait_s if recipe else 0.0,
        began=began,
    )


def overlay(base: Settled, over: BaseModel) -> Settled:
    """`base` with every key that was really written in `over`."""
    update = {}
    for name in type(base).model_fields:
        if name in over.model_fields_set:
            old, new = getattr(base, name), getattr(over, name)
            update[name] = overlay(old, new) if isinstance(old, BaseModel) else new
    return base.model_copy(update=update)


def _recipe(name: str, beside: Path, configs: Path | None) -> Recipe:
    """The recipe file beside the case, or the shop's recipe of that name."""
    if name.endswith(".toml"):
        return read_recipe(read_text(beside / name), name)
    own = read_toml(config_file(configs, "site.toml"), SiteFile).data.folder / "recipes"
    return RecipeShelf(Path(str(files("configs") / "recipes")), own).get(name)


def _asked(recipe: Recipe, over: CaseParameters) -> tuple[CoatPlan, ...]:
    return tuple(_asked_coat(step, over) for step in recipe.coats)


def _asked_coat(step: CoatStep, over: CaseParameters) -> CoatPlan:
    """A recipe's coat; what the case's [parameters] set holds over it."""
    asked = {
        f"{step.kind}_thickness_m": step.thickness_m,
        "porosity": step.porosity,
        "dry_density_kg_m3": step.dry_density_kg_m3,
        "immersion_s": step.immersion_s,
        "ready_saturation": step.ready_saturation,
    }
    settled = overlay(CoatSettings().model_copy(update=asked), over)
    return CoatPlan(
        step.kind,
        settled.coat(step.kind),
        settled.immersion_s,
        settled.ready_saturation,
        step.least_wait_s,
        step.longest_wait_s,
    )


def _listed(coats: Sequence[CoatCase], usual: CoatSettings) -> tuple[CoatPlan, ...]:
    return tuple(plan for coat in coats for plan in [_listed_coat(coat, usual)] * coat.times)


def _listed_coat(coat: CoatCase, usual: CoatSettings) -> CoatPlan:
    written = {name: value for name, value in dict(coat).items() if value is not None}
    if coat.thickness_m is not None:
        written[f"{coat.kind}_thickness_m"] = coat.thickness_m
    settled = usual.model_copy(update={k: v for k, v in written.items() if k in CoatSettings.model_fields})
    return CoatPlan(
        coat.kind,
        settled.coat(coat.kind),
        settled.immersion_s,
        settled.ready_saturation,
        coat.least_wait_s,
        coat.longest_wait_s,
    )


def _zones(zones: Sequence[ZoneCase], file: str) -> tuple[tuple[str, ZoneShape], ...]:
    only = len(zones) == 1
    named = [
        (zone.name or ("mould" if only else f"zone {i}"), zone.zone_shape) for i, zone in enumerate(zones, 1)
    ]
    names = [name for name, _ in named]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise BadInput(
            "zone_twice",
            say("{file}: two zones are called “{twice}”.", file=file, twice=twice),
            say("Give each its own name."),
            "zones",
        )
    return tuple(named)


def _air(written: CaseFile, beside: Path) -> tuple[AirSeries, datetime | None]:
    """The air of the case; a constant written beside a file holds over the file's column."""
    here_pa = written.site.here_pa
    constant = written.air.constants
    if written.air.file is None:
        temperature_k, humidity, speed_m_s = (value or 0.0 for value in constant.values())
        return AirSeries.constant(temperature_k, humidity, speed_m_s, here_pa), None
    table = read_air_file(beside / written.air.file, written.air.columns, written.air.units)
    values = {column: np.full_like(table.time_s, v) for column, v in constant.items() if v is not None}
    usual = {Column.PRESSURE: np.full_like(table.time_s, here_pa)}
    found = {**usual, **table.values, **values}
    missing = next((column for column in constant if column not in found), None)
    if missing is not None:
        raise no_column(written.air.file, missing)
    order = (Column.TEMPERATURE, Column.HUMIDITY, Column.SPEED, Column.PRESSURE)
    temperature, share, speed, pressure = (found[column] for column in order)
    return AirSeries(table.time_s, temperature, share, speed, pressure), table.began


def _dips(dipping: DippingCase, coats: int, began: datetime | None, file: str) -> tuple[float, ...] | None:
    at = dipping.at
    if at is None:
        return None
    if len(at) > coats or (len(at) < coats and dipping.then is None):
        raise BadInput(
            "dips_count",
            say(
                "{file}: dipping.at gives {number} times for {coats} coats.",
                file=file,
                number=len(at),
                coats=coats,
            ),
            say(
                "Give one time a coat, or leave it out: each coat then goes on when the one before it is ready."
            ),
            "dipping.at",
        )
    moments = tuple(_moment(text, began, file, "dipping.at") for text in at)
    for number, (before, after) in enumerate(pairwise(moments), 2):
        if after <= before:
            raise BadInput(
                "dips_order",
                say(
                    "{file}: coat {number} goes on before coat {before}.",
                    file=file,
                    number=number,
                    before=number - 1,
                ),
                say("Put times in order."),
                "dipping.at",
            )
    return moments


def _told(
    written: CaseFile, zones: Sequence[str], dips_s: Sequence[float] | None, began: datetime | None, file: str
) -> Told:
    """Lengths of time count from the first dip here; dates are dates."""
    if not written.evidence:
        return Told()
    if not dips_s:
        raise BadInput(
            "evidence_dips",
            say("{file}: evidence is of a mould that hangs, so its coats went on at known times.", file=file),
            say('Give dipping.at, and then = "when ready" for coats still to come.'),
            "dipping.at",
        )

    def moment(text: str, where: str) -> float:
        return _since_start(text, began, where, "evidence", dips_s[0])

    return told(written.evidence, Mould(zones, dips_s, moment), file)


def _moment(text: str, began: datetime | None, file: str, field: str) -> float:
    """Seconds from the start of the air: from a time such as “7 h”, or from a date where the air has dates."""
    seconds = _since_start(text, began, say("{file}: {field}", file=file, field=field), field)
    if seconds < 0:
        raise BadInput(
            "dip_too_soon",
            say("{file}: {field}: “{text}” is before the air begins.", file=file, field=field, text=text),
            say("Choose later."),
            field,
        )
    return seconds


def _since_start(text: str, began: datetime | None, where: str, field: str, zero_s: float = 0.0) -> float:
    """The same; a length of time counts from `zero_s`. where: what an error begins with."""
    try:
        date = datetime.fromisoformat(text)
    except ValueError:
        return zero_s + _wait(text, where, field)
    return _since(began, date, where, field)


def _wait(text: str, where: str, field: str) -> float:
    try:
        return parse(text, Dimension.TIME)
    except BadInput as error:
        raise BadInput(
            error.code,
            f"{where}: {error.message}",
            error.todo,
            field,
        ) from error


def _since(began: datetime | None, date: datetime, where: str, field: str) -> float:
    if began is None:
        raise BadInput(
            "dates_unknown",
            say("{where} gives a date, but the air has none.", where=where),
            say("Write a time such as “7 h”."),
            field,
        )
    if (began.tzinfo is None) != (date.tzinfo is None):
        raise BadInput(
            "zones_differ",
            say("{where} and the air do not both name a time zone.", where=where),
            say("Write both alike."),
            field,
        )
    return (date - began).total_seconds()
