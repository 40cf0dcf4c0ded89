"""A small shop with a record worth taking along."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

from service.records.facts import NoteBody, TankCheckBody, ToldBody, WithdrawnBody
from service.records.shop_facts import Site
from service.units import Units
from tests.service.room.cases import T0
from tests.service.room.small_shop import SmallShop

SALTMARSH = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)


@contextmanager
def paper_shop(folder: Path) -> Iterator[SmallShop]:
    """Furnished, with nothing hung."""
    with SmallShop(folder) as small:
        small.furnish()
        small.shop.save_site(SALTMARSH)
        yield small


def fill(small: SmallShop) -> None:
    """Heron with two coats and a corrected note, Redshank with one, a tank check taken back, a message told.

    Facts 1 to 12; Redshank hangs from a day later on.
    """
    shop, key = small.shop, small.keys
    small.hang("Heron")
    small.dip(1)
    note = shop.note(1, "=2+3 a crack", "bench 1", next(key))
    small.let_pass(3)
    small.dip(1, reason="felt dry")
    fixed = NoteBody(text="a hairline crack")
    shop.correct(note.number, fixed, note.at, "bench 2", next(key))
    tank = small.records.append(
        None, TankCheckBody(tank="grey", flow_s=32.5, ph=9.6), small.clock.now(), "bench 1"
    )
    told = ToldBody(key="k", alert="next dip due", title="Heron: coat 2", recipient="phone", attempts=1)
    small.records.append(None, told, small.clock.now(), "")
    small.clock.advance(timedelta(days=1).total_seconds())
    small.hang("Redshank")
    shop.weigh(2, 4.25, "bench 2", next(key))
    small.dip(2)
    small.records.append(
        None, WithdrawnBody(text="wrong tank"), small.clock.now(), "bench 1", replaces=tank.number
    )
    shop.end(1, "dewaxed", "cup first", "bench 1", next(key), small.clock.now())


FIRST_DAY = T0.date()
