"""A whole shop on a database file, with a clock that moves only when told and sensors that are played."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from importlib.resources import files
from itertools import count
from pathlib import Path

from service.clock import FakeClock
from service.reading import Freshness, Reading
from service.records.database import Database
from service.records.facts import Fact, Zone
from service.records.recipe_files import RecipeShelf
from service.records.recipes import Recipe
from service.records.store import Records
from service.room.keeper import Keeper
from service.room.views import MouldNow, SensorNow
from service.settings import load_settings
from service.shop import Shop
from tests.service.room.cases import FACE, T0, TWO_COATS, WARM_K, mould_body, readings

FRESH = timedelta(minutes=10)
STALE = timedelta(minutes=30)
MEMBERS = 16
"""Enough for the parts to be tried together; how well members cover a doubt is tested where they are made."""


class SmallShop:
    """The parts, put together as the service does it. Close it, or use it as a context."""

    def __init__(self, folder: Path, now: datetime = T0) -> None:
        self.folder = folder
        self.clock = FakeClock(now)
        self.database = Database(f"sqlite:///{folder / 'coatbell.db'}")
        self.records = Records(self.database, self.clock)
        self.keys = map("key {}".format, count())
        self.members = MEMBERS
        self.begin()

    def begin(self) -> None:
        """Start the service, or start it again: what was only in memory is gone."""
        settings = load_settings(None, {"data": {"folder": str(self.folder)}}, environ={})
        shelf = RecipeShelf(Path(str(files("configs") / "recipes")), self.folder / "recipes")
        self.keeper = Keeper(self.records, settings.parameters, self.sensors_now, members=self.members)
        self.keeper.open_books(self.clock.now())
        self.keeper.restore()
        self.shop = Shop(self.records, self.keeper, shelf, self.clock, settings)

    def __enter__(self) -> SmallShop:
        return self

    def __exit__(self, *_: object) -> None:
        self.database.close()

    # Air

    def sensors_now(self, now: datetime) -> list[SensorNow]:
        return [self._sensor_now(s.name, s.room_id, now) for s in self.records.sensors()]

    def _sensor_now(self, name: str, room_id: int | None, now: datetime) -> SensorNow:
        newest = [r for r in self.records.newest(name) if r.at <= now]
        heard = max((r.at for r in newest), default=None)
        age = now - heard if heard else None
        freshness = (
            Freshness.NEVER
            if age is None
            else Freshness.FRESH
            if age <= FRESH
            else Freshness.LATE
            if age <= STALE
            else Freshness.STALE
        )
        return SensorNow(name, room_id, freshness, heard, tuple((r.quantity, r.value, r.at) for r in newest))

    def send(self, sent: Sequence[Reading]) -> None:
        """Readings on the way every reading goes: stored, then handed on."""
        self.records.add_readings(list(sent))
        self.keeper.take(sent)

    def let_pass(
        self, hours: float, temperature_k: float = WARM_K, humidity: float = 0.5, every_s: float = 1800.0
    ) -> None:
        """Time passes, with a look each `every_s` and the wall sensor sending every five minutes."""
        end = self.clock.now() + timedelta(hours=hours)
        while self.clock.now() < end:
            step = min(every_s, (end - self.clock.now()).total_seconds())
            start = self.clock.now()
            self.clock.advance(step)
            self.send(readings(start, step / 3600, temperature_k, humidity, every_s=300.0))
            self.shop.refresh()

    def silence(self, hours: float, every_s: float = 1800.0) -> None:
        """Time passes and no sensor sends."""
        end = self.clock.now() + timedelta(hours=hours)
        while self.clock.now() < end:
            self.clock.advance(min(every_s, (end - self.clock.now()).total_seconds()))
            self.shop.refresh()

    def work_out(self) -> None:
        """What is worked out beside the looks, until there is nothing left to do."""
        now = self.clock.now()
        while self.keeper.learner.wants(self.keeper.hanging(), now) and self.keeper.work_out_spread(now):
            pass
        while self.keeper.learn_from_the_finished(now, 0.0):
            pass

    # Moulds

    def furnish(self, hours_of_air: float = 24.0, humidity: float = 0.5) -> None:
        """A room, a wall sensor in it, and what it sent until now."""
        self.shop.add_room("shell room")
        self.hang_sensor("wall", 1, hours_of_air, humidity=humidity)

    def hang_sensor(
        self,
        name: str,
        room_id: int | None,
        hours: float,
        temperature_k: float = WARM_K,
        humidity: float = 0.5,
    ) -> None:
        start = self.clock.now() - timedelta(hours=hours)
        self.records.hear_sensor(name, start)
        if hours:
            self.records.add_readings(
                readings(start, hours, temperature_k, humidity, sensor=name, every_s=300.0)
            )
        if room_id is not None:
            self.shop.place_sensor(name, room_id)

    def hang(
        self,
        name: str = "Heron",
        recipe: Recipe = TWO_COATS,
        zones: Sequence[Zone] = (FACE,),
        room_id: int = 1,
        at: datetime | None = None,
    ) -> MouldNow:
        body = mould_body(name, recipe, zones, room_id)
        return self.shop.start_mould(body, "bench 1", next(self.keys), at)

    def dip(self, mould_id: int = 1, at: datetime | None = None, reason: str | None = None) -> Fact:
        return self.shop.dip(mould_id, "", at, "bench 1", next(self.keys), reason)

    def until_due(self, mould_id: int = 1) -> None:
        """Let time pass, in this air, until the bell rings."""
        due = self.shop.mould(mould_id).due_at
        assert due is not None
        self.let_pass(max((due - self.clock.now()).total_seconds() / 3600 + 0.02, 0.0))

    def now(self, mould_id: int = 1) -> MouldNow:
        self.shop.refresh()
        return self.shop.mould(mould_id)
