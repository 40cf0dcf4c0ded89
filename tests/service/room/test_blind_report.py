"""What coatbell gathers about a time in which it did not run, on a real shop's records."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from service.room.blind_report import look_across
from service.room.blind_views import Across
from tests.service.room.cases import TWO_COATS, WARM_K, h, mould_body, readings
from tests.service.room.small_shop import SmallShop

COLD_K = 285.15


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[SmallShop]:
    with SmallShop(tmp_path) as small:
        small.furnish()
        small.hang()
        small.dip()
        small.let_pass(0.5)
        yield small


def dark(shop: SmallShop, hours: float, minutes_after: float = 10) -> tuple[datetime, datetime]:
    """The power is away for so long; then the sensor sends again, in the cold."""
    since = shop.clock.now()
    shop.clock.advance(hours * 3600)
    until = shop.clock.now()
    shop.begin()
    shop.clock.advance(minutes_after * 60)
    if minutes_after:
        shop.send(readings(until, minutes_after / 60, COLD_K, 0.78))
    return since, until


def look(shop: SmallShop, since: datetime, until: datetime) -> Across:
    return look_across(shop.keeper, since, until, shop.shop.refresh())


def test_both_sides_of_it(shop: SmallShop) -> None:
    (room,) = look(shop, *dark(shop, 1)).rooms
    assert room.before is not None
    assert room.after is not None
    assert room.now is not None
    assert (room.before.temperature_k, room.before.humidity) == (WARM_K, 0.5)
    assert (room.after.temperature_k, room.now.humidity) == (COLD_K, 0.78)
    assert (room.coldest_k, room.warmest_k) == (COLD_K, WARM_K)
    assert room.hanging == ("Heron",)


def test_the_mould_that_dried_meanwhile_has_its_bounds(shop: SmallShop) -> None:
    (mould,) = look(shop, *dark(shop, 1)).moulds
    assert mould.name == "Heron"
    assert mould.due_at == shop.now().about_at
    assert mould.least is not None
    assert mould.due_at is not None
    assert mould.most is not None
    assert mould.least <= mould.due_at <= mould.most
    assert mould.most > mould.least


def test_its_bounds_are_held_against_its_likeliest_hour(shop: SmallShop) -> None:
    """The bell waits for more than that, and other air alone makes no doubt of the shell."""
    since, until = dark(shop, 1)
    board = shop.shop.refresh()
    (heron,) = board.moulds
    bell = heron.due_at
    assert bell is not None
    assert bell > board.at + h(0.5)
    for about, told in ((bell - h(0.5), bell - h(0.5)), (board.at, bell), (None, bell)):
        seen = replace(board, moulds=(replace(heron, about_at=about),))
        (mould,) = look_across(shop.keeper, since, until, seen).moulds
        assert mould.due_at == told


def test_no_reading_yet(shop: SmallShop) -> None:
    found = look(shop, *dark(shop, 1, minutes_after=0))
    assert found.rooms[0].after is None
    assert found.rooms[0].now is None
    assert found.rooms[0].before is not None
    assert len(found.moulds) == 1


def test_what_the_sensor_told_long_before_is_not_before(shop: SmallShop) -> None:
    shop.silence(1)
    assert look(shop, *dark(shop, 1)).rooms[0].before is None


def test_a_sensor_counts_for_the_room_it_hung_in(shop: SmallShop) -> None:
    shop.shop.add_room("Lean-to")
    since, until = dark(shop, 1)
    first, second = look(shop, since, until).rooms
    assert first.before is not None
    assert (second.before, second.after, second.hanging) == (None, None, ())


def test_an_empty_shop_says_only_air(tmp_path: Path) -> None:
    with SmallShop(tmp_path) as small:
        small.furnish()
        small.let_pass(1)
        found = look(small, *dark(small, 2))
        assert found.moulds == ()
        assert len(found.rooms) == 1


def test_one_that_left_is_left_out(shop: SmallShop) -> None:
    since, until = dark(shop, 1)
    shop.shop.end(1, "scrapped", "", "bench 1", "a key of its own")
    found = look(shop, since, until)
    assert found.moulds == ()
    assert found.rooms[0].hanging == ()
    assert until - since == h(1)


def test_one_that_was_moved_is_worked_out_in_the_air_of_both_rooms(shop: SmallShop) -> None:
    """Its bounds are as good as those of one that was never moved: the second room has the same air."""
    shop.shop.add_room("Lean-to")
    shop.hang("Curlew")
    shop.dip(2)
    shop.hang_sensor("door", 2, 24.0)
    shop.shop.change_mould(1, mould_body("Heron", TWO_COATS, room_id=2), "bench 1", "move it there")
    shop.let_pass(0.25)
    since, until = dark(shop, 1)
    shop.send(readings(until, 1 / 6, COLD_K, 0.78, sensor="door"))
    found = look(shop, since, until)
    assert [mould.name for mould in found.moulds] == ["Heron", "Curlew"]
    assert [room.hanging for room in found.rooms] == [("Curlew",), ("Heron",)]
    assert all(mould.most is not None and mould.least is not None for mould in found.moulds)
    assert all(one.p.mould_id in (1, 2) for one in shop.keeper.hung(shop.clock.now()))


def test_with_no_air_at_all_no_mould_is_worked_out(tmp_path: Path) -> None:
    with SmallShop(tmp_path) as small:
        small.shop.add_room("shell room")
        small.hang()
        small.dip()
        small.clock.advance(3600)
        found = look(small, small.clock.now() - h(1), small.clock.now())
        assert found.moulds == ()
        assert found.rooms[0].hanging == ("Heron",)
