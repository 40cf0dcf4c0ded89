"""Recipes, moulds, facts, readings and air for the tests of the room."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from service.drying.shell import Parameters
from service.drying.weather import AirSeries
from service.errors import ShopError
from service.reading import Quantity, Reading
from service.records.facts import (
    AnyBody,
    CheckBody,
    DipBody,
    EndedBody,
    Fact,
    MouldBody,
    WiresBody,
    WithdrawnBody,
    Zone,
    ZoneKind,
)
from service.records.recipes import AirLimits, CoatKind, CoatStep, FinalDryStep, Recipe, WireStep
from service.records.shop_facts import Room, Site
from service.room.air_book import RoomAir
from service.room.air_forecast import AirForecast
from service.room.estimate import ZoneEstimate, dry_enough_s
from service.room.expected import Expected
from service.room.heard import BIN_S
from service.room.progress import Progress, progress
from service.room.room_view import RoomState
from service.room.views import Freshness, SensorNow
from service.units import Units

T0 = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
PARAMETERS = Parameters()
PRESSURE_PA = 101325.0
WARM_K = 294.15
ROOM = Room(1, "shell room", 0.2)
SITE = Site("Saltmarsh Bronze", 0.0, "UTC", Units.METRIC)


def h(hours: float) -> timedelta:
    return timedelta(hours=hours)


def minutes(number: float) -> timedelta:
    return timedelta(minutes=number)


@contextmanager
def refused(code: str) -> Iterator[pytest.ExceptionInfo[ShopError]]:
    """What is done inside is refused, with this code; the error is there afterwards, in `value`."""
    with pytest.raises(ShopError) as told:
        yield told
    assert told.value.code == code, told.value


# Recipes and moulds

PRIME_STEP = CoatStep(
    kind=CoatKind.PRIME, tank="white", thickness_m=0.6e-3, least_wait_s=2 * 3600, longest_wait_s=6 * 3600
)
BACKUP_STEP = CoatStep(kind=CoatKind.BACKUP, tank="grey", thickness_m=1.1e-3, least_wait_s=3600)
FINAL = FinalDryStep(water_limit=0.02, least_wait_s=24 * 3600)
WADER = Recipe(
    name="wader",
    title="Wading bird",
    steps=(PRIME_STEP, PRIME_STEP, BACKUP_STEP, WireStep(where="legs"), BACKUP_STEP, FINAL),
    prime_air=AirLimits(
        lowest_temperature_k=294.15,
        highest_temperature_k=296.15,
        lowest_humidity=0.5,
        highest_humidity=0.7,
        largest_swing_k=1.7,
    ),
    backup_air=AirLimits(lowest_humidity=0.4, highest_humidity=0.6),
)
TWO_COATS = Recipe(name="two-coats", title="Two coats", steps=(PRIME_STEP, BACKUP_STEP, FINAL))
FACE = Zone(name="body", kind=ZoneKind.OPEN_FACE, height_m=0.4, width_m=0.3)
HOLE = Zone(
    name="cup", kind=ZoneKind.POCKET, height_m=0.4, width_m=0.3, depth_m=0.08, mouth_m=0.04, slot=False
)


def mould_body(
    name: str = "Heron",
    recipe: Recipe = WADER,
    zones: Sequence[Zone] = (FACE,),
    room_id: int = 1,
    **more: object,
) -> MouldBody:
    return MouldBody.model_validate(
        {"name": name, "recipe": recipe, "zones": tuple(zones), "room_id": room_id, **more}
    )


# Facts


@dataclass
class Ledger:
    """The facts of one mould, written as a test tells them."""

    mould_id: int = 1
    facts: list[Fact] = field(default_factory=list)
    next_number: int = 1

    def write(self, body: AnyBody, at: datetime, replaces: Fact | None = None, hand: str = "bench 1") -> Fact:
        number = self.next_number
        self.next_number += 1
        fact = Fact(
            number,
            self.mould_id,
            at,
            at,
            hand,
            body,
            replaces.number if replaces else None,
            None,
            str(number),
        )
        self.facts.append(fact)
        return fact

    def hang(self, body: MouldBody | None = None, at: datetime = T0) -> Fact:
        return self.write(body or mould_body(), at)

    def dip(self, coat: int, at: datetime, reason: str | None = None, tank: str | None = None) -> Fact:
        steps = self.recipe.coats
        step = steps[min(coat, len(steps)) - 1]
        body = DipBody(coat=coat, coat_kind=step.kind, tank=tank or step.tank, early_reason=reason)
        return self.write(body, at)

    def dips(self, *hours: float) -> list[Fact]:
        """The coats in order, each so many hours after T0."""
        return [self.dip(coat, T0 + h(hour)) for coat, hour in enumerate(hours, 1)]

    def wires(self, after_coat: int, at: datetime) -> Fact:
        return self.write(WiresBody(after_coat=after_coat), at)

    def feel(self, verdict: str, at: datetime, zone: str | None = None) -> Fact:
        return self.write(CheckBody.model_validate({"verdict": verdict, "zone": zone}), at)

    def end(self, at: datetime, outcome: str = "dewaxed") -> Fact:
        return self.write(EndedBody.model_validate({"outcome": outcome}), at)

    def withdraw(self, fact: Fact, at: datetime) -> Fact:
        return self.write(WithdrawnBody(), at, replaces=fact)

    @property
    def recipe(self) -> Recipe:
        body = self.facts[0].body
        assert isinstance(body, MouldBody)
        return body.recipe

    @property
    def progress(self) -> Progress:
        return progress(self.mould_id, self.facts)


def mould(
    *dip_hours: float,
    recipe: Recipe = WADER,
    zones: Sequence[Zone] = (FACE,),
    mould_id: int = 1,
    name: str = "Heron",
) -> Progress:
    """A mould hung up at T0, dipped so many hours after it."""
    ledger = Ledger(mould_id)
    ledger.hang(mould_body(name, recipe, zones))
    ledger.dips(*dip_hours)
    return ledger.progress


def exactly(p: Progress, zones: Sequence[ZoneEstimate]) -> Expected | None:
    """As sure as can be of the plain estimate."""
    at_s = dry_enough_s(p, zones)
    return Expected(at_s, at_s, at_s, at_s) if zones else None


# Air


def seconds(at: datetime) -> float:
    return at.timestamp()


def steady(temperature_k: float = WARM_K, humidity: float = 0.5, speed_m_s: float = 0.2) -> AirSeries:
    return AirSeries.constant(temperature_k, humidity, speed_m_s, PRESSURE_PA)


def room_air(
    start: datetime = T0,
    hours: float = 48.0,
    temperature_k: float = WARM_K,
    humidity: float = 0.5,
    swing_k: float = 0.0,
    gaps: Iterable[tuple[float, float]] = (),
) -> RoomAir:
    """Five-minute air from `start`, warmest at 18 h UTC; `gaps` in hours from `start` were not measured."""
    first = int(start.timestamp() // BIN_S)
    t = (first + np.arange(int(hours * 3600 / BIN_S), dtype=np.float64) + 0.5) * BIN_S
    measured = np.ones(t.size, bool)
    for begin, end in gaps:
        since = (t - start.timestamp()) / 3600
        measured &= ~((since >= begin) & (since < end))
    day = np.sin(2 * np.pi * (t % 86400 - 12 * 3600) / 86400)
    series = AirSeries(
        t,
        temperature_k + 0.5 * swing_k * day,
        np.full(t.size, humidity),
        np.full(t.size, 0.2),
        np.full(t.size, PRESSURE_PA),
    )
    return RoomAir(series, measured, np.zeros(t.size, bool), np.zeros(t.size, bool))


def sensor(
    name: str = "wall",
    freshness: Freshness = Freshness.FRESH,
    at: datetime = T0,
    quantities: Sequence[Quantity] = (Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY),
    room_id: int | None = 1,
) -> SensorNow:
    return SensorNow(name, room_id, freshness, at, tuple((q, 1.0, at) for q in quantities))


def room_state(
    air: RoomAir | None = None,
    to_come: AirForecast | None = None,
    sensors: Sequence[SensorNow] = (),
    room: Room = ROOM,
) -> RoomState:
    return RoomState(room, air, to_come, tuple(sensors))


# Readings


def reading(
    at: datetime,
    value: float,
    quantity: Quantity = Quantity.AIR_TEMPERATURE,
    sensor: str = "wall",
    received_at: datetime | None = None,
) -> Reading:
    return Reading(sensor, quantity, value, at, received_at or at)


def readings(
    start: datetime,
    hours: float,
    temperature_k: float = WARM_K,
    humidity: float = 0.5,
    sensor: str = "wall",
    every_s: float = 60.0,
    swing_k: float = 0.0,
) -> list[Reading]:
    """What a climate sensor sends from `start` on, for so many hours."""
    sent: list[Reading] = []
    for i in range(round(hours * 3600 / every_s)):
        at = start + timedelta(seconds=i * every_s)
        day = float(np.sin(2 * np.pi * (at.timestamp() % 86400 - 12 * 3600) / 86400))
        sent.append(reading(at, temperature_k + 0.5 * swing_k * day, Quantity.AIR_TEMPERATURE, sensor))
        sent.append(reading(at, humidity, Quantity.RELATIVE_HUMIDITY, sensor))
    return sent
