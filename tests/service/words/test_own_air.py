"""Whether the room's air suits one mould."""

from __future__ import annotations

from dataclasses import replace

import pytest

from api.fakes import SALTMARSH, FakeShop
from service.records.recipes import AirLimits
from service.room.views import Freshness, MouldNow, RoomNow
from service.units import Units
from service.words import own_air_lines

LIMITS = AirLimits(
    lowest_temperature_k=294.15, highest_temperature_k=296.15, lowest_humidity=0.5, highest_humidity=0.7
)


@pytest.fixture(scope="module")
def shop() -> FakeShop:
    return FakeShop.saltmarsh()


@pytest.fixture
def room(shop: FakeShop) -> RoomNow:
    return replace(shop.board().rooms[0], temperature_k=295.15, humidity=0.6)


@pytest.fixture
def primed(shop: FakeShop) -> MouldNow:
    found = next(m for m in shop.all_moulds() if m.name == "Avocet")
    return replace(found, recipe=found.recipe.model_copy(update={"prime_air": LIMITS}))


def test_good_air_is_not_mentioned(primed: MouldNow, room: RoomNow) -> None:
    assert own_air_lines(primed, room, SALTMARSH) == []


@pytest.mark.parametrize(
    ("kelvin", "humidity", "line"),
    [
        (296.15, 0.7, None),
        (294.15, 0.5, None),
        (297.15, 0.6, "Too warm for its coat: 24.0 °C, wanted at most 23.0 °C"),
        (293.15, 0.6, "Too cold for its coat: 20.0 °C, wanted at least 21.0 °C"),
        (295.15, 0.75, "Too damp for its coat: 75 %, wanted at most 70 %"),
        (295.15, 0.44, "Too dry for its coat: 44 %, wanted at least 50 %"),
    ],
)
def test_from_the_limit_on(
    primed: MouldNow, room: RoomNow, kelvin: float, humidity: float, line: str | None
) -> None:
    lines = own_air_lines(primed, replace(room, temperature_k=kelvin, humidity=humidity), SALTMARSH)
    assert lines == ([line] if line else [])


def test_a_backup_coat_asks_what_its_recipe_asks_of_backup_coats(shop: FakeShop, room: RoomNow) -> None:
    heron = next(m for m in shop.all_moulds() if m.name == "Heron")
    lines = own_air_lines(heron, replace(room, humidity=0.45), SALTMARSH)
    assert lines == []
    assert own_air_lines(heron, replace(room, humidity=0.39), SALTMARSH) == [
        "Too dry for its coat: 39 %, wanted at least 40 %"
    ]


def test_bare_wax_and_old_air_say_nothing(shop: FakeShop, primed: MouldNow, room: RoomNow) -> None:
    cold = replace(room, temperature_k=280.0)
    bare = next(m for m in shop.all_moulds() if m.coats_given == 0)
    assert own_air_lines(bare, cold, SALTMARSH) == []
    assert own_air_lines(primed, replace(cold, freshness=Freshness.STALE), SALTMARSH) == []


def test_in_the_shops_units(primed: MouldNow, room: RoomNow) -> None:
    us = replace(SALTMARSH, units=Units.US)
    assert "°F" in own_air_lines(primed, replace(room, temperature_k=280.0), us)[0]
