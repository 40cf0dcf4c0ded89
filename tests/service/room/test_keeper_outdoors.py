"""The keeper hands what is outside to each room's forecast, and to the room outside none."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from service.drying.air import vapour_density_kg_m3
from service.reading import Quantity
from service.room.air_book import RoomAir
from service.room.air_forecast import hourly_means
from service.room.outside import AHEAD_H, Outside
from tests.service.room.cases import T0, h, reading
from tests.service.room.small_shop import SmallShop

DAYS = 6


class Yard:
    """Outside as the yard's own sensor has it, and from now on ten degrees colder."""

    room = "yard"

    def __init__(self) -> None:
        self.asked: list[tuple[set[str], datetime]] = []

    def outside(self, airs: Mapping[str, RoomAir | None], now: datetime) -> Outside | None:
        self.asked.append((set(airs), now))
        air = airs["yard"]
        assert air is not None
        kelvin, humidity = hourly_means(air, now.timestamp())
        ahead = np.full(AHEAD_H + 1, np.nanmean(kelvin) - 10.0)
        vapour = vapour_density_kg_m3(ahead, 0.8)
        past = np.where(np.isfinite(kelvin), vapour_density_kg_m3(kelvin, humidity), np.nan)
        return Outside(kelvin, past, ahead, vapour, np.full(AHEAD_H + 1, 0.5), np.full(AHEAD_H + 1, 1e-4))


def weather(follows: float) -> list[float]:
    """Quarters of an hour that warm and cool at random within hours, as far as somebody follows them."""
    draw, level, out = np.random.default_rng(2), 0.0, []
    for _ in range(DAYS * 96):
        level = 0.99 * level + float(draw.normal(0.0, 0.6))
        out.append(288.15 + follows * level)
    return out


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[SmallShop]:
    """A room that follows the yard by a half, and the yard: six days."""
    with SmallShop(tmp_path) as shop:
        since = shop.clock.now() - h(24 * DAYS)
        for number, (name, follows) in enumerate((("shell room", 0.5), ("yard", 1.0)), 1):
            shop.shop.add_room(name)
            shop.records.hear_sensor(name, T0)
            times = [since + h(i / 4) for i in range(DAYS * 96)]
            warm = [reading(at, k, sensor=name) for at, k in zip(times, weather(follows), strict=True)]
            damp = [reading(at, 0.6, Quantity.RELATIVE_HUMIDITY, name) for at in times]
            shop.records.add_readings([*warm, *damp])
            shop.shop.place_sensor(name, number)
        yield shop


def test_a_room_follows_and_the_room_outside_does_not(shop: SmallShop) -> None:
    plain = {room.room.name: room for room in shop.shop.refresh().rooms}
    yard = Yard()
    shop.keeper._outdoors = yard
    seen = {room.room.name: room for room in shop.shop.refresh().rooms}
    assert yard.asked[-1] == ({"shell room", "yard"}, shop.clock.now())
    day_after = [48, 49, 50]
    for i in day_after:
        assert (
            seen["shell room"].forecast[i].temperature_k < plain["shell room"].forecast[i].temperature_k - 1.0
        )
        assert seen["yard"].forecast[i].temperature_k == pytest.approx(
            plain["yard"].forecast[i].temperature_k
        )
    assert seen["shell room"].forecast_how.endswith(", and the air outside")
    assert "outside" not in seen["yard"].forecast_how


def test_nobody_who_knows_it_is_as_ever(shop: SmallShop) -> None:
    assert all("outside" not in room.forecast_how for room in shop.shop.refresh().rooms)
