"""Readings are thinned out when they are old, earlier where room runs out, never below what must be kept."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from service.reading import Quantity
from service.retention import LEAST_KEPT, Retention
from service.room.hung_in import COUNTS_FOR
from service.settings import Settings, load_settings
from service.storage import StorageNow
from tests.service.room.cases import T0, h, readings
from tests.service.room.small_shop import SmallShop

DAY = timedelta(days=1)
EARLY = T0 - 500 * DAY


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[SmallShop]:
    with SmallShop(tmp_path) as made:
        yield made


def retention(shop: SmallShop, keep_days: float = 400, **more: Any) -> Retention:
    settings = load_settings(None, {"data": {"keep_readings": f"{keep_days} d"}}, {})
    own: Settings = settings.model_copy(
        update={"data": settings.data.model_copy(update={"folder": shop.folder})}
    )
    return Retention(shop.records, shop.keeper, own, pause=lambda _: None, **more)


def send_since(shop: SmallShop, days_ago: float, every_h: float = 6.0) -> None:
    shop.records.add_readings(
        readings(T0 - days_ago * DAY, 24 * days_ago, sensor="wall", every_s=every_h * 3600)
    )


def oldest(shop: SmallShop) -> datetime | None:
    return shop.records.oldest_reading()


def summed_up(shop: SmallShop) -> int:
    return int(shop.records.hours("wall", Quantity.AIR_TEMPERATURE, EARLY, T0).count.sum())


def crowded(keeper: Retention, monkeypatch: pytest.MonkeyPatch, until: datetime | None = None) -> None:
    """No room, or none until the oldest reading is younger than this."""
    look = keeper.storage

    def storage(now: datetime) -> StorageNow:
        found = look(now)
        still = until is None or (found.oldest_reading is not None and found.oldest_reading < until)
        return replace(found, disk_free=1 if still else 10**12, copies=0)

    monkeypatch.setattr(keeper, "storage", storage)


def test_what_is_older_than_asked_becomes_hours(shop: SmallShop) -> None:
    send_since(shop, 450)
    assert retention(shop).thin_out(T0) == 50 * 4 * 2
    assert oldest(shop) == T0 - 400 * DAY
    assert summed_up(shop) == 50 * 4


def test_to_the_hour(shop: SmallShop) -> None:
    send_since(shop, 401, every_h=0.5)
    retention(shop).thin_out(T0 + timedelta(minutes=59))
    assert oldest(shop) == T0 - 400 * DAY
    retention(shop).thin_out(T0 + h(1))
    assert oldest(shop) == T0 - 400 * DAY + h(1)


def test_done_twice_nothing_more_happens(shop: SmallShop) -> None:
    send_since(shop, 450)
    retention(shop).thin_out(T0)
    assert retention(shop).thin_out(T0) == 0
    assert summed_up(shop) == 50 * 4


def test_those_of_a_mould_that_still_hangs_are_kept(shop: SmallShop) -> None:
    shop.furnish(hours_of_air=0)
    send_since(shop, 200)
    shop.hang(at=T0 - 89 * DAY)
    shop.clock.advance(50 * 86400)
    retention(shop, keep_days=100).thin_out(shop.clock.now())
    kept = oldest(shop)
    assert kept is not None
    assert kept <= T0 - 89 * DAY - COUNTS_FOR
    assert kept > T0 - 92 * DAY
    shop.shop.end(1, "scrapped", "", "bench 1", "end")
    retention(shop, keep_days=100).thin_out(shop.clock.now())
    assert oldest(shop) == shop.clock.now() - 100 * DAY


def test_where_room_runs_out_younger_ones_go_too_but_not_the_last_hundred_days(
    shop: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    send_since(shop, 300)
    tight = retention(shop)
    crowded(tight, monkeypatch)
    tight.thin_out(T0)
    assert oldest(shop) == T0 - LEAST_KEPT
    assert summed_up(shop) == 200 * 4


def test_only_as_many_as_must(shop: SmallShop, monkeypatch: pytest.MonkeyPatch) -> None:
    send_since(shop, 300)
    tight = retention(shop)
    crowded(tight, monkeypatch, until=T0 - 280 * DAY)
    tight.thin_out(T0)
    left = oldest(shop)
    assert left is not None
    assert T0 - 280 * DAY <= left <= T0 - 278 * DAY


def test_facts_are_never_thinned_out(shop: SmallShop, monkeypatch: pytest.MonkeyPatch) -> None:
    shop.furnish(hours_of_air=0)
    shop.hang(at=T0 - 80 * DAY)
    shop.dip(at=T0 - 79 * DAY, reason="trial")
    before = shop.records.facts(1)
    tight = retention(shop, keep_days=100)
    crowded(tight, monkeypatch)
    tight.thin_out(T0 + 900 * DAY)
    assert shop.records.facts(1) == before
    assert shop.records.verify_chain() is None


def test_it_stops_between_two_steps_when_the_service_ends(shop: SmallShop) -> None:
    send_since(shop, 450)
    steps = iter([False, False, True, True, True, True])
    done = retention(shop, closing=lambda: next(steps)).thin_out(T0)
    assert done == 2 * 4
    assert retention(shop).thin_out(T0) == 50 * 4 * 2 - done


def test_others_write_between_two_steps(shop: SmallShop) -> None:
    send_since(shop, 410)
    pauses: list[float] = []
    keeper = retention(shop)
    keeper._pause = lambda seconds: (pauses.append(seconds), shop.records.remember("x", "y"))[0]
    keeper.thin_out(T0)
    assert len(pauses) == 10 * 2


def test_the_file_does_not_grow_for_ever(shop: SmallShop) -> None:
    """What is thinned out is used again by what comes, and given back where it is much."""
    send_since(shop, 450, every_h=0.1)
    assert shop.records.database_size().used_bytes > 5_000_000
    file = shop.database.file
    assert file is not None
    before = file.stat().st_size
    retention(shop).thin_out(T0)
    size = shop.records.database_size()
    assert size.free_bytes <= 0.11 * (size.free_bytes + size.used_bytes)
    assert file.stat().st_size <= before


def test_the_audit_of_an_old_mould_says_that_only_hours_are_known(shop: SmallShop) -> None:
    shop.furnish(hours_of_air=24 * 12)
    shop.hang(at=T0 - 8 * DAY)
    shop.dip(at=T0 - 7.9 * DAY, reason="trial")
    shop.dip(at=T0 - 7 * DAY, reason="trial")
    shop.shop.end(1, "scrapped", "", "bench 1", "end", at=T0 - 6 * DAY)
    as_measured = shop.shop.audit(1)
    assert as_measured.air_by_the_hour_s == 0
    shop.clock.advance(86400 * 120)
    assert retention(shop, keep_days=100).thin_out(shop.clock.now()) > 0
    shop.begin()
    assert shop.shop.audit(1).air_by_the_hour_s == 0, "it was worked out while the readings were there"
    with shop.records._database.write() as session:
        session.execute(text("DELETE FROM worked_out"))
    by_the_hour = shop.shop.audit(1)
    assert by_the_hour.air_by_the_hour_s == pytest.approx(1.9 * 86400, abs=1200), (
        "from the first dip to the end"
    )
    for one, other in zip(as_measured.coats, by_the_hour.coats, strict=True):
        assert one.saturation_at_next_dip == pytest.approx(other.saturation_at_next_dip, abs=1e-3)
        assert one.air_gap_s == pytest.approx(other.air_gap_s, abs=600)
        assert one.temperature_range_k == pytest.approx(other.temperature_range_k, abs=1e-6)
