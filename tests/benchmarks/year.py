"""A busy shop's year of records, built at once: a valid ledger of real recipes, and the readings of its sensors.

What the service writes one by one is laid down in bulk here, by the same code for the chain and into the same tables.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from importlib.resources import files
from itertools import cycle
from pathlib import Path

import numpy as np
from sqlalchemy import insert

from service.clock import FakeClock
from service.reading import Quantity, Reading
from service.records.database import Database
from service.records.facts import AnyBody, DipBody, EndedBody, MouldBody, WiresBody, Zone, ZoneKind
from service.records.ledger import START, Line, canonical, chained
from service.records.recipe_files import RecipeShelf
from service.records.recipes import Recipe, WireStep
from service.records.shop_facts import Site
from service.records.store import Records
from service.records.tables import FactTable, LedgerHeadTable, MouldTable
from service.room.placements import place
from service.units import Units

NAMES = (
    "Redshank",
    "Dunlin",
    "Curlew",
    "Heron",
    "Avocet",
    "Ship's bell",
    "Portrait head",
    "Gate panel of reeds",
)
SENSORS = ("rack", "door", "loft")
EVERY_S = 30.0
LIFE = timedelta(days=9)
BATCH = 2880
FACTS_AT_ONCE = 2000
Told = tuple[datetime, int, AnyBody, str]
"""What befell a mould: when, which, what, and who said so."""


@dataclass(frozen=True)
class Size:
    """How much of a year. `readings` are those of three heads that measure temperature and humidity."""

    days: float = 365.0
    finished: int = 2000
    hanging: int = 50

    def part(self, share: float) -> Size:
        return Size(
            self.days * share, max(round(self.finished * share), 1), max(round(self.hanging * share), 1)
        )


def build(url: str, size: Size, now: datetime) -> dict[str, int]:
    """Write it all; how many facts and readings that is. The database must be empty."""
    rng = random.Random(7)
    with Database(url) as database:
        began = now - timedelta(days=size.days)
        records = Records(database, FakeClock(began))
        _shop(records, began)
        facts = _lay_down(database, sorted(_lives(size, began, now, rng), key=lambda told: told[:2]))
        readings = _readings(database, records, began, now)
        records.remember("last back-up", now.isoformat())
    return {"facts": facts, "readings": readings}


def _shop(records: Records, began: datetime) -> None:
    records.save_site(Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC))
    room = records.add_room("Shell room")
    for sensor in SENSORS:
        records.hear_sensor(sensor, began)
        place(records, sensor, room.id, began)


def shipped_recipes() -> list[Recipe]:
    return RecipeShelf(Path(str(files("configs") / "recipes")), Path("nowhere")).all()


def _lives(size: Size, began: datetime, now: datetime, rng: random.Random) -> Iterator[Told]:
    """Finished ones spread over the time there is, then those that still hang, each somewhere in its life."""
    recipes = cycle(shipped_recipes())
    span = max(now - began - LIFE, timedelta(hours=1))
    for number in range(1, size.finished + 1):
        hung = began + span * (number / (size.finished + 1))
        yield from _life(number, hung, next(recipes), now, rng, ends=True)
    for number in range(size.finished + 1, size.finished + size.hanging + 1):
        hung = now - min(LIFE * 0.8 * rng.random(), now - began) - timedelta(minutes=30)
        yield from _life(number, hung, next(recipes), now, rng, ends=False)


def _life(
    number: int, hung: datetime, recipe: Recipe, now: datetime, rng: random.Random, ends: bool
) -> Iterator[Told]:
    hand = f"bench {1 + number % 2}"
    yield hung, number, _mould(number, recipe), hand
    at, coat = hung + timedelta(minutes=20), 0
    for step in recipe.steps:
        if step.step == "coat":
            coat += 1
            if at <= now:
                yield at, number, DipBody(coat=coat, coat_kind=step.kind, tank=step.tank), hand
            at += timedelta(hours=4 + 8 * rng.random())
        elif isinstance(step, WireStep) and at <= now:
            yield at - timedelta(hours=1), number, WiresBody(after_coat=coat), hand
    if ends:
        outcome = "failed" if number % 12 == 0 else "dewaxed"
        yield min(at + timedelta(hours=36), now), number, EndedBody(outcome=outcome), hand


def _mould(number: int, recipe: Recipe) -> MouldBody:
    face = Zone(name="outside", kind=ZoneKind.OPEN_FACE, height_m=0.4, width_m=0.3)
    hole = Zone(name="inside", kind=ZoneKind.POCKET, height_m=0.28, width_m=0.24, depth_m=0.2, mouth_m=0.15)
    zones = (face, hole) if number % 2 else (face,)
    name = f"{NAMES[number % len(NAMES)]} {number}"
    return MouldBody(name=name, piece=NAMES[number % len(NAMES)], room_id=1, zones=zones, recipe=recipe)


def _lay_down(database: Database, told: Sequence[Told]) -> int:
    """The ledger, each line recorded when it happened. Moulds are counted in the order they were hung up."""
    with database.write() as session:
        moulds = sorted({mould_id for _, mould_id, _, _ in told})
        session.execute(insert(MouldTable), [{"id": mould_id} for mould_id in moulds])
    before, rows = START, []
    for number, (at, mould_id, body, hand) in enumerate(told, 1):
        text = canonical(body.model_dump(mode="json"))
        line = Line(number, mould_id, body.kind, at, at, hand, text, None, f"year-{number}")
        line = chained(before, line)
        before = line.digest
        rows.append(asdict(line))
    for start in range(0, len(rows), FACTS_AT_ONCE):
        with database.write(durable=False) as session:
            session.execute(insert(FactTable), rows[start : start + FACTS_AT_ONCE])
    with database.write() as session:
        head = session.get_one(LedgerHeadTable, 1)
        head.number, head.digest = len(rows), before
    return len(rows)


def _readings(database: Database, records: Records, began: datetime, now: datetime) -> int:
    """As three heads send them: a day's swing, some noise, a second late. The last ones through the store itself."""
    times_s = np.arange(began.timestamp(), now.timestamp(), EVERY_S)
    noise = np.random.default_rng(7).normal(size=BATCH)
    numbers = _series_numbers(records, datetime.fromtimestamp(times_s[0], UTC))
    for start in range(0, times_s.size, BATCH):
        t = times_s[start : start + BATCH]
        day = np.sin(2 * np.pi * (t % 86400 - 36000) / 86400)
        rows = []
        for index, (kelvin, humidity) in enumerate(numbers):
            at_us = (np.round((t + index) * 1e6)).astype(np.int64).tolist()
            warm = (294.15 + 0.4 * day + 0.05 * noise[: t.size] + 0.1 * index).round(2).tolist()
            damp = (0.48 + 0.04 * day + 0.005 * noise[: t.size]).round(3).tolist()
            rows += [(kelvin, at, value) for at, value in zip(at_us, warm, strict=True)]
            rows += [(humidity, at, value) for at, value in zip(at_us, damp, strict=True)]
        rows.sort(key=lambda row: row[1])
        _insert(database, rows)
    with database.write() as session:
        session.connection().exec_driver_sql(
            "UPDATE sensors SET last_good = ?", (f"{now:%Y-%m-%d %H:%M:%S.%f}",)
        )
    return int(times_s.size) * 2 * len(SENSORS)


def _series_numbers(records: Records, first: datetime) -> list[tuple[int, int]]:
    """Of each sensor, the numbers of its temperature and its humidity: made by the store, with the first reading."""
    pair = (Quantity.AIR_TEMPERATURE, 294.15), (Quantity.RELATIVE_HUMIDITY, 0.48)
    for index, sensor in enumerate(SENSORS):
        at = first + timedelta(seconds=index)
        records.add_readings([Reading(sensor, quantity, value, at, at) for quantity, value in pair])
    return [(2 * index + 1, 2 * index + 2) for index in range(len(SENSORS))]


def _insert(database: Database, rows: Sequence[tuple[int, int, float]]) -> None:
    with database.write(durable=False) as session:
        session.connection().exec_driver_sql(
            "INSERT OR IGNORE INTO readings (series_id, at_us, value, late_us) VALUES (?, ?, ?, 1000000)",
            list(rows),
        )
