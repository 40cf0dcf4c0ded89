"""The rooms of a whole shop: what stands there is kept, and questions are answered without recording anything."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.records.set_up import Part
from service.room.room_fittings import RoomFittings, Runs
from service.room.what_if_views import FanSwitched, HangMore, Missing, Switched, WhatIf
from service.room_desk import RoomDesk
from tests.service.room.cases import T0, h, refused
from tests.service.room.small_shop import SmallShop

SHED = RoomFittings(volume_m3=60.0, fan_m_s=1.0)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[SmallShop]:
    with SmallShop(tmp_path) as made:
        made.furnish(30.0, humidity=0.55)
        yield made


def desk(shop: SmallShop, in_file: dict[str, RoomFittings] | None = None) -> RoomDesk:
    return RoomDesk(
        shop.records, shop.keeper, shop.clock, in_file or {}, shop.shop.board, shop.shop.shelf.get
    )


class TestFittings:
    def test_kept_by_the_rooms_number_so_a_new_name_loses_nothing(self, shop: SmallShop) -> None:
        it = desk(shop)
        it.keep(1, SHED, "bench 1")
        assert it.fittings() == {1: SHED}
        kept = it.kept(1)
        assert (kept.fittings, kept.in_file) == (SHED, False)
        assert kept.said is not None
        assert kept.said.hand == "bench 1"

    def test_the_file_holds_until_something_is_said_here_and_again_after(self, shop: SmallShop) -> None:
        it = desk(shop, {"shell room": RoomFittings(volume_m3=99.0)})
        assert it.kept(1).fittings.volume_m3 == 99.0
        assert it.kept(1).said is None
        it.keep(1, SHED, "bench 1")
        assert it.kept(1).fittings == SHED
        it.take_back(1, "bench 1")
        assert it.kept(1).fittings.volume_m3 == 99.0
        assert it.kept(1).in_file

    def test_what_cannot_be_read_counts_as_never_said(self, shop: SmallShop) -> None:
        shop.records.keep_set_up(Part.ROOMS, "1", {"volume_m3": "wide"}, "bench 1")
        assert desk(shop).kept(1).said is None
        assert desk(shop).fittings() == {1: RoomFittings()}

    def test_of_a_room_that_is_not_there(self, shop: SmallShop) -> None:
        it = desk(shop)
        for attempt in (
            lambda: it.kept(9),
            lambda: it.keep(9, SHED, ""),
            lambda: it.take_back(9, ""),
            lambda: it.what_if(WhatIf(9)),
        ):
            with refused("room_unknown"):
                attempt()


class TestWhatIf:
    def test_a_whole_shop_answers_and_records_nothing(self, shop: SmallShop) -> None:
        it = shop.shop.room_desk
        it.keep(1, SHED, "bench 1")
        shop.hang()
        shop.dip()
        shop.let_pass(0.5)
        facts, said = shop.records.last_fact_number(), len(shop.records.set_up(Part.ROOMS))
        now = shop.clock.now()
        then = it.what_if(WhatIf(1, more=HangMore(6, now + h(0.5), like=1)))
        assert then.missing == ()
        (heron,) = then.moulds
        assert heron.due_now == shop.shop.mould(1).due_at
        assert heron.later_s is not None
        assert heron.later_s > 60.0
        assert then.more is not None
        assert then.learned is not None
        assert then.learned.half_hours > 40
        assert (shop.records.last_fact_number(), len(shop.records.set_up(Part.ROOMS))) == (facts, said)

    def test_the_board_stays_as_it_was(self, shop: SmallShop) -> None:
        it = shop.shop.room_desk
        it.keep(1, SHED, "bench 1")
        shop.hang()
        shop.dip()
        shop.let_pass(0.5)
        before = shop.now()
        it.what_if(WhatIf(1, fan=FanSwitched(shop.clock.now(), True)))
        after = shop.now()
        assert after.due_at == before.due_at
        assert after.zones[0].coat_saturations == pytest.approx(before.zones[0].coat_saturations, abs=1e-9)

    def test_without_a_size_it_says_so(self, shop: SmallShop) -> None:
        then = desk(shop).what_if(WhatIf(1, heater=Switched(T0, Runs.OFF)))
        assert then.missing == (Missing.VOLUME,)
        assert then.learned is not None

    def test_one_question_at_a_time(self, shop: SmallShop, monkeypatch: pytest.MonkeyPatch) -> None:
        it = desk(shop)
        monkeypatch.setattr("service.room_desk.WAITS_S", 0.05)
        begun, over = threading.Event(), threading.Event()

        def slow(*_: object) -> object:
            begun.set()
            over.wait(10)
            raise RuntimeError("enough")

        monkeypatch.setattr(it, "_answer", slow)

        def ask() -> None:
            with pytest.raises(RuntimeError):
                it.what_if(WhatIf(1))

        first = threading.Thread(target=ask)
        first.start()
        assert begun.wait(10)
        with refused("what_if_busy"):
            it.what_if(WhatIf(1))
        over.set()
        first.join()

    def test_a_question_that_fails_lets_the_next_in(self, shop: SmallShop) -> None:
        it = desk(shop)
        it.keep(1, SHED, "")
        with refused("mould_unknown"):
            it.what_if(WhatIf(1, more=HangMore(1, T0, like=77)))
        assert it.what_if(WhatIf(1)).missing == ()


def test_rooms_are_learned_of_on_a_tick(shop: SmallShop) -> None:
    it = desk(shop)
    assert it.learned()[0].half_hours == 0
    it.work_out()
    assert it.learned()[0].half_hours > 40
