"""One seeded demo for all tests that only look at it: seeding takes seconds."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path

import pytest

from service.clock import FakeClock, SystemClock
from service.demo.demo import Demo, resume_at
from service.records.database import Database
from service.records.recipe_files import RecipeShelf
from service.records.store import Records
from service.room.keeper import Keeper
from service.room.views import Freshness, SensorNow
from service.settings import Settings, load_settings
from service.shop import Shop

SUMMER = datetime(2026, 6, 10, 14, 30, tzinfo=UTC)


@dataclass(frozen=True)
class Seeded:
    """A demo just after it was seeded, its clock standing still, and the shop as the service would show it."""

    demo: Demo
    records: Records
    clock: FakeClock
    settings: Settings
    shop: Shop
    begins: datetime
    seed_cpu_s: float


def settings_in(folder: Path) -> Settings:
    return load_settings(None, {"data": {"folder": str(folder)}}, environ={})


def shop_over(records: Records, clock: FakeClock, settings: Settings) -> Shop:
    """The real shop; every sensor counts as fresh, as it does while it is heard."""

    def sensors_now(now: datetime) -> list[SensorNow]:
        return [SensorNow(s.name, s.room_id, Freshness.FRESH, s.last_good, ()) for s in records.sensors()]

    keeper = Keeper(records, settings.parameters, sensors_now)
    keeper.open_books(clock.now())
    shelf = RecipeShelf(Path(str(files("configs") / "recipes")), settings.data.folder / "recipes")
    return Shop(records, keeper, shelf, clock, settings, demo=True)


@pytest.fixture(scope="session")
def seeded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Seeded]:
    settings = settings_in(tmp_path_factory.mktemp("demo"))
    with Database(settings.data.database_url) as database:
        begins = resume_at(Records(database, SystemClock()), SUMMER)
        clock = FakeClock(begins)
        records = Records(database, clock)
        demo = Demo(records, clock, settings)
        began = time.process_time()
        assert demo.seed_if_empty()
        took = time.process_time() - began
        yield Seeded(demo, records, clock, settings, shop_over(records, clock, settings), begins, took)
