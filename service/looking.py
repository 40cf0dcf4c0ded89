"""A shop put together from records that are only looked at, beside a running coatbell: for commands that ask and go."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path

from service.clock import SystemClock
from service.records.database import Database
from service.records.look_only import LookOnly
from service.records.recipe_files import RecipeShelf
from service.records.store import Records
from service.room.keeper import Keeper
from service.settings import Settings
from service.shop import Shop


@contextmanager
def looking_at(settings: Settings) -> Iterator[Shop]:
    """Nothing can be recorded through it. Raises NotFound where there are no records."""
    with LookOnly(settings.data.database_url) as database:
        yield shop_over(database, settings)


def shop_over(database: Database, settings: Settings) -> Shop:
    """A shop without sensors, messages or pages."""
    clock = SystemClock()
    records = Records(database, clock)
    shelf = RecipeShelf(Path(str(files("configs") / "recipes")), settings.data.folder / "recipes")
    keeper = Keeper(records, settings.parameters, lambda now: [])
    keeper.open_books(clock.now())
    return Shop(records, keeper, shelf, clock, settings)
