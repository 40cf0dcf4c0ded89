"""The shop: what it is told is stored once and in order, whoever tells it and however often."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta, timezone
from functools import partial
from pathlib import Path

import pytest

from service.alerts.replies import Said
from service.alerts.reply_desk import ReplyDesk
from service.alerts.reply_links import Link, LinkOver, ReplyLinks
from service.alerts.rules import read_rules
from service.errors import Conflict, NotFound, ShopError, Unavailable
from service.reading import Quantity, Reading
from service.records.facts import (
    CheckBody,
    DipBody,
    Fact,
    MouldBody,
    NoteBody,
    Problem,
    WeightBody,
    WiresBody,
    live,
)
from service.records.outbox import AlertRow, NewAlert
from service.records.shop_facts import Room, Site
from service.room.keeper import Seen
from service.room.views import Stage, Trouble
from service.shop import AS_GOOD_AS_NOW, Shop
from service.units import Units
from tests.service.room.cases import (
    FACE,
    HOLE,
    T0,
    TWO_COATS,
    WADER,
    h,
    minutes,
    mould_body,
    readings,
    refused,
)
from tests.service.room.small_shop import SmallShop

HANDS = 8


@pytest.fixture
def small(tmp_path: Path) -> Iterator[SmallShop]:
    with SmallShop(tmp_path) as made:
        made.furnish()
        yield made


@pytest.fixture
def shop(small: SmallShop) -> Shop:
    return small.shop


def holding(small: SmallShop, mould_id: int = 1) -> list[Fact]:
    return live(small.records.facts(mould_id))


def all_at_once(*acts: Callable[[], object]) -> list[object]:
    """Each on a thread of its own, let go together; what came back, or the error."""
    gate, found = threading.Barrier(len(acts)), [object()] * len(acts)

    def run(i: int, act: Callable[[], object]) -> None:
        gate.wait()
        try:
            found[i] = act()
        except Exception as error:
            found[i] = error

    threads = [threading.Thread(target=run, args=(i, act)) for i, act in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert not any(thread.is_alive() for thread in threads)
    return found


def failing(error: Exception) -> Callable[[datetime], Seen]:
    def look(now: datetime) -> Seen:
        raise error

    return look


class TestMoulds:
    def test_hung_up_and_seen(self, small: SmallShop, shop: Shop) -> None:
        seen = small.hang("Heron", WADER, (FACE, HOLE))
        assert (seen.id, seen.name, seen.stage, seen.started_at) == (1, "Heron", Stage.TO_DIP, T0)
        assert shop.board().moulds == (seen,)
        assert shop.mould(1) == seen

    def test_hung_up_yesterday(self, small: SmallShop) -> None:
        assert small.hang(at=T0 - h(24)).started_at == T0 - h(24)

    def test_told_in_another_zone_it_is_the_same_instant(self, small: SmallShop) -> None:
        local = (T0 - h(2)).astimezone(timezone(timedelta(hours=5)))
        assert small.hang(at=local).started_at == T0 - h(2)

    def test_not_in_the_future_and_not_without_a_zone(self, small: SmallShop) -> None:
        with refused("start_in_future"):
            small.hang(at=T0 + h(1))
        with refused("time_without_zone"):
            small.hang(at=datetime(2026, 3, 2, 7, 0))
        with refused("start_too_long_ago"):
            small.hang(at=T0 - h(24 * 91))
        assert small.records.mould_ids() == []

    def test_in_a_room_there_is(self, small: SmallShop) -> None:
        with refused("room_unknown") as told:
            small.hang(room_id=9)
        assert isinstance(told.value, NotFound)
        assert small.records.mould_ids() == []

    def test_pressed_twice_it_is_hung_up_once(self, shop: Shop) -> None:
        one, two = (shop.start_mould(mould_body(), "bench 1", "k") for _ in range(2))
        assert one.id == two.id
        assert len(shop.all_moulds()) == 1

    def test_a_stranger(self, shop: Shop) -> None:
        for ask in (shop.mould, shop.audit):
            with refused("mould_unknown"):
                ask(7)

    def test_a_mould_that_left_can_still_be_asked_for(self, small: SmallShop, shop: Shop) -> None:
        small.hang("Heron")
        small.hang("Curlew")
        small.dip(1)
        shop.end(1, "scrapped", "dropped", "bench 1", "end")
        assert [m.name for m in shop.board().moulds] == ["Curlew"]
        assert (shop.mould(1).stage, shop.mould(1).outcome) == (Stage.ENDED, "scrapped")
        assert [m.name for m in shop.all_moulds()] == ["Curlew", "Heron"]

    def test_ended_ones_newest_first(self, small: SmallShop, shop: Shop) -> None:
        for number in (1, 2, 3):
            small.hang(f"wax {number}")
        for number in (2, 1, 3):
            small.clock.advance(60)
            shop.end(number, "scrapped", "", "bench 1", f"end {number}")
        assert [m.id for m in shop.all_moulds()] == [3, 1, 2]


class TestChangeMould:
    def test_another_name_and_hook(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        seen = shop.change_mould(1, mould_body("Curlew", TWO_COATS, hook="7"), "bench 2", "k")
        assert (seen.name, seen.hook, seen.started_at) == ("Curlew", "7", T0)

    def test_its_recipe_stays_as_it_was(self, small: SmallShop, shop: Shop) -> None:
        small.hang(recipe=TWO_COATS)
        assert shop.change_mould(1, mould_body("Curlew", WADER), "bench 2", "k").recipe == TWO_COATS

    def test_pressed_twice_it_is_changed_once(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        for _ in range(2):
            seen = shop.change_mould(1, mould_body("Curlew", TWO_COATS), "bench 2", "k")
        assert seen.name == "Curlew"
        assert len(small.records.facts(1)) == 2

    def test_changed_again_and_again(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        for name in ("Curlew", "Avocet", "Dunlin"):
            shop.change_mould(1, mould_body(name, TWO_COATS), "bench 2", name)
        assert shop.mould(1).name == "Dunlin"

    def test_into_a_room_there_is(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        with refused("room_unknown"):
            shop.change_mould(1, mould_body(room_id=9), "bench 2", "k")

    def test_with_coats_on_another_room_is_a_move(self, small: SmallShop, shop: Shop) -> None:
        shop.add_room("back room")
        small.hang()
        small.dip()
        small.clock.advance(3600)
        shop.change_mould(1, mould_body(recipe=TWO_COATS, room_id=2), "bench 2", "k")
        assert holding(small)[-1].at == T0 + h(1)
        assert shop.mould(1).started_at == T0

    def test_a_move_written_down_late(self, small: SmallShop, shop: Shop) -> None:
        shop.add_room("back room")
        small.hang()
        small.dip()
        small.clock.advance(3600)
        moved = mould_body(recipe=TWO_COATS, room_id=2)
        shop.change_mould(1, moved, "bench 2", "k", T0 + minutes(20))
        assert holding(small)[-1].at == T0 + minutes(20)
        for at, code in ((T0 + h(2), "change_in_future"), (T0 - minutes(1), "change_before_start")):
            with refused(code):
                shop.change_mould(1, moved, "bench 2", code, at)

    def test_a_move_put_later_even_to_now(self, small: SmallShop, shop: Shop) -> None:
        """The hours since then were in the air of the room before."""
        shop.add_room("back room")
        small.hang_sensor("back", 2, 0)
        small.hang()
        small.dip()
        small.clock.advance(2 * 3600)
        moved = mould_body(recipe=TWO_COATS, room_id=2)
        shop.change_mould(1, moved, "bench 2", "k", T0 + minutes(1))
        small.send(readings(T0, 2, humidity=0.4, every_s=300.0))
        small.send(readings(T0, 2, humidity=0.9, sensor="back", every_s=300.0))
        damp = shop.refresh().moulds[0].zones[0].newest_saturation
        for at in (T0 + h(1), T0 + h(2)):
            seen = shop.change_mould(1, moved, "bench 2", f"later {at}", at)
            assert seen.hung_here_at == at
            dry = seen.zones[0].newest_saturation
            assert dry is not None
            assert damp is not None
            assert dry < damp
            damp = dry

    def test_a_new_name_after_a_move_was_taken_back_moves_nothing(self, small: SmallShop, shop: Shop) -> None:
        for name in ("back room", "loft"):
            shop.add_room(name)
        small.hang()
        small.dip()
        small.clock.advance(4 * 3600)
        for hour, room_id in ((1, 2), (2, 3), (2, 2)):
            body = mould_body(recipe=TWO_COATS, room_id=room_id)
            shop.change_mould(1, body, "bench 2", f"k{hour}{room_id}", T0 + h(hour))
        seen = shop.change_mould(1, mould_body("Curlew", TWO_COATS, room_id=2), "bench 2", "name")
        assert (seen.name, seen.hung_here_at) == ("Curlew", T0 + h(1))

    def test_what_has_left_is_not_moved(self, small: SmallShop, shop: Shop) -> None:
        shop.add_room("back room")
        small.hang()
        small.dip()
        small.clock.advance(3600)
        shop.end(1, "dewaxed", "", "bench 1", "end")
        small.clock.advance(60)
        moved = mould_body(recipe=TWO_COATS, room_id=2)
        with refused("change_after_end"):
            shop.change_mould(1, moved, "bench 2", "k")
        assert shop.change_mould(1, moved, "bench 2", "k", T0 + h(1)).room.id == 2
        assert shop.change_mould(1, mould_body("Curlew", TWO_COATS, room_id=2), "", "n").name == "Curlew"

    def test_a_bare_wax_was_simply_written_down_wrong(self, small: SmallShop, shop: Shop) -> None:
        shop.add_room("back room")
        small.hang()
        small.clock.advance(3600)
        shop.change_mould(1, mould_body(recipe=TWO_COATS, room_id=2), "bench 2", "k")
        assert holding(small)[0].at == T0

    def test_a_zone_measured_anew_changes_the_estimate(self, small: SmallShop, shop: Shop) -> None:
        small.hang(zones=(FACE,))
        small.dip()
        before = shop.mould(1).due_at
        shop.change_mould(1, mould_body(recipe=TWO_COATS, zones=(HOLE,)), "bench 2", "k")
        after = shop.mould(1).due_at
        assert before is not None
        assert after is not None
        assert after > before + h(1)


class TestDip:
    def test_from_the_tank_the_recipe_names_or_the_one_told(self, small: SmallShop, shop: Shop) -> None:
        small.hang("Heron")
        small.hang("Curlew")
        assert small.dip(1).body == DipBody(coat=1, coat_kind=TWO_COATS.coats[0].kind, tank="white")
        other = shop.dip(2, "old white", None, "bench 1", "k")
        assert isinstance(other.body, DipBody)
        assert other.body.tank == "old white"

    def test_the_board_follows_before_it_returns(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        version = shop.changes.version
        small.dip()
        assert shop.board().moulds[0].coats_given == 1
        assert shop.changes.version == shop.board().version == version + 1

    def test_too_early_and_with_a_reason(self, small: SmallShop) -> None:
        small.hang()
        small.dip()
        small.clock.advance(60)
        with refused("dip_early"):
            small.dip()
        given = small.dip(reason="rain coming")
        assert isinstance(given.body, DipBody)
        assert given.body.early_reason == "rain coming"

    def test_when_the_bell_rings_it_is_not_early(self, small: SmallShop) -> None:
        small.hang()
        small.dip()
        small.until_due()
        given = small.dip()
        assert isinstance(given.body, DipBody)
        assert given.body.early_reason is None

    def test_a_reason_where_none_was_wanted_is_kept(self, small: SmallShop) -> None:
        small.hang()
        given = small.dip(reason="just so")
        assert isinstance(given.body, DipBody)
        assert given.body.early_reason == "just so"

    def test_what_was_seen_long_ago_is_looked_at_again(self, small: SmallShop) -> None:
        """No tick came: the last look is old, and the sensors are silent since."""
        small.hang()
        small.dip()
        small.clock.advance(AS_GOOD_AS_NOW.total_seconds() + 20 * 3600)
        small.dip()

    def test_pressed_twice_it_is_given_once(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        one, two = (shop.dip(1, "", None, "bench 1", "k") for _ in range(2))
        assert one == two
        assert shop.mould(1).coats_given == 1

    def test_a_key_used_for_something_else(self, small: SmallShop, shop: Shop) -> None:
        small.hang("Heron")
        small.hang("Curlew")
        shop.note(1, "chipped beak", "bench 1", "k")
        attempts: list[Callable[[], object]] = [
            lambda: shop.dip(1, "", None, "bench 1", "k"),
            lambda: shop.note(2, "chipped beak", "bench 1", "k"),
            lambda: shop.withdraw(1, "bench 1", "k"),
            lambda: shop.note(1, "cracked cup", "bench 1", "k"),
            lambda: shop.note(1, "chipped beak", "bench 2", "k"),
        ]
        for again in attempts:
            with refused("key_reused"):
                again()

    def test_a_key_used_for_the_same_with_something_else_in_it(self, small: SmallShop, shop: Shop) -> None:
        """What was said the second time must not be lost behind a "recorded"."""
        small.hang()
        slip = shop.dip(1, "white", None, "bench 1", "dip", coat=1)
        shop.weigh(1, 4.0, "bench 1", "weight")
        shop.check(1, "dry", None, "bench 1", "check")
        shop.wires(1, "long edges", "bench 1", "wires")
        noted = shop.note(1, "chipped", "bench 1", "note")
        shop.correct(noted.number, NoteBody(text="chipped beak"), T0, "bench 1", "correct")
        shop.withdraw(slip.number + 1, "bench 1", "undo")
        shop.end(1, "failed", "cup broke", "bench 1", "end")
        before = len(small.records.facts(1))
        attempts: list[Callable[[], object]] = [
            lambda: shop.dip(1, "grey", None, "bench 1", "dip", coat=1),
            lambda: shop.dip(1, "white", None, "bench 1", "dip", coat=2),
            lambda: shop.dip(1, "white", None, "bench 1", "dip", "rain coming", coat=1),
            lambda: shop.weigh(1, 4.1, "bench 1", "weight"),
            lambda: shop.check(1, "still damp", None, "bench 1", "check"),
            lambda: shop.wires(1, "", "bench 1", "wires"),
            lambda: shop.correct(noted.number, NoteBody(text="chipped foot"), T0, "bench 1", "correct"),
            lambda: shop.withdraw(noted.number, "bench 1", "undo"),
            lambda: shop.end(1, "failed", "", "bench 1", "end"),
        ]
        for again in attempts:
            with refused("key_reused"):
                again()
        assert len(small.records.facts(1)) == before

    def test_a_phone_a_little_ahead_means_now(self, small: SmallShop) -> None:
        small.hang()
        assert small.dip(at=T0 + minutes(1.5)).at == T0
        assert small.now().zones[0].newest_saturation == 1.0

    def test_not_in_the_future_not_before_it_hung_not_for_a_stranger(self, small: SmallShop) -> None:
        small.hang()
        for at, code in ((T0 + minutes(3), "dip_in_future"), (T0 - minutes(1), "dip_before_start")):
            with refused(code):
                small.dip(at=at)
        with refused("mould_unknown"):
            small.dip(7)

    def test_without_air_a_reason_is_wanted(self, tmp_path: Path) -> None:
        with SmallShop(tmp_path / "other") as bare:
            bare.shop.add_room("shell room")
            bare.hang()
            bare.dip()
            bare.clock.advance(20 * 3600)
            with refused("dip_early") as told:
                bare.dip()
            assert "for want of air readings" in told.value.message
            bare.dip(reason="felt dry")

    def test_dipped_an_hour_ago_and_written_down_now(self, small: SmallShop) -> None:
        small.hang(at=T0 - h(3))
        small.dip(at=T0 - h(1))
        newest = small.now().zones[0].newest_saturation
        assert newest is not None
        assert 0.5 < newest < 0.95


class TestTelling:
    def test_wires_lie_on_the_coat_of_their_time(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        small.dip()
        small.until_due()
        second = small.dip()
        before = shop.wires(1, "legs", "bench 1", "a", at=second.at - minutes(10))
        after = shop.wires(1, "wings", "bench 1", "b")
        assert before.body == WiresBody(after_coat=1, text="legs")
        assert after.body == WiresBody(after_coat=2, text="wings")

    def test_no_wires_on_bare_wax(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        with refused("no_coat_yet"):
            shop.wires(1, "", "bench 1", "k")

    def test_still_damp_holds_the_next_dip_back(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        small.dip()
        small.until_due()
        assert small.now().stage is Stage.READY
        shop.check(1, "still damp", None, "bench 1", "k")
        assert shop.mould(1).stage is Stage.DRYING
        small.clock.advance(1800)
        assert small.now().stage is Stage.READY

    def test_a_zone_the_mould_has_not(self, small: SmallShop, shop: Shop) -> None:
        small.hang(zones=(FACE, HOLE))
        assert shop.check(1, "dry", "cup", "bench 1", "a").body == CheckBody(verdict="dry", zone="cup")
        with refused("zone_unknown"):
            shop.check(1, "dry", "beak", "bench 1", "b")

    def test_a_weight_and_a_note(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        shop.weigh(1, 4.25, "bench 1", "a")
        shop.note(1, "chipped beak", "bench 2", "b")
        assert [fact.body.kind for fact in holding(small)] == ["mould", "weight", "note"]

    def test_what_is_wrong_stands_until_it_is_put_right(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        shop.note(1, "at the cup", "bench 1", "a", problem=Problem.CRACK)
        assert shop.note(1, "at the cup", "bench 1", "a", problem=Problem.CRACK).number == 2
        shop.note(1, "", "bench 2", "b", problem=Problem.DROPPED)
        assert [wrong.problem for wrong in small.now().wrong] == [Problem.CRACK, Problem.DROPPED]
        assert (small.now().wrong[0].text, small.now().wrong[0].hand) == ("at the cup", "bench 1")
        over = shop.note(1, "dabbed on", "bench 2", "c", problem=Problem.CRACK, over=True)
        assert [wrong.problem for wrong in small.now().wrong] == [Problem.DROPPED]
        shop.withdraw(over.number, "bench 2", "d")
        assert len(small.now().wrong) == 2
        with refused("key_reused"):
            shop.note(1, "at the cup", "bench 1", "a", problem=Problem.SAGGED)

    def test_a_weight_taken_from_the_scale(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        small.clock.advance(600)
        assert shop.scales() == []
        with refused("scale_silent"):
            shop.weigh_by_scale(1, "hoist", "bench 1", "a")
        now = small.clock.now()
        small.send([Reading("hoist", Quantity.WEIGHT, 14.2, now, now)])
        assert [(scale.name, scale.mass_kg, scale.fresh) for scale in shop.scales()] == [
            ("hoist", 14.2, True)
        ]
        small.clock.advance(60)
        kept = shop.weigh_by_scale(1, "hoist", "bench 1", "a")
        assert kept.body == WeightBody(mass_kg=14.2, scale="hoist")
        small.clock.advance(3600)
        assert (
            shop.weigh_by_scale(1, "hoist", "bench 1", "a") == kept
        )  # a second press, though the scale is silent
        assert shop.weigh_by_scale(1, "hoist", "bench 1", "b", now + minutes(1)).body == kept.body
        with refused("scale_silent"):
            shop.weigh_by_scale(1, "hoist", "bench 1", "c")

    def test_a_note_and_a_weight_stand_in_the_ledger_as_they_always_did(self) -> None:
        assert NoteBody(text="crack").model_dump(mode="json") == {"kind": "note", "text": "crack"}
        assert WeightBody(mass_kg=4.0).model_dump(mode="json") == {"kind": "weight", "mass_kg": 4.0}
        with pytest.raises(ValueError, match="The note is empty"):
            NoteBody()

    def test_after_it_left_only_notes_are_taken(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        small.dip()
        shop.end(1, "failed", "ran out", "bench 1", "end")
        shop.note(1, "at the left wing", "bench 1", "a")
        attempts: list[Callable[[], object]] = [
            lambda: shop.weigh(1, 4.0, "bench 1", "b"),
            lambda: shop.wires(1, "", "bench 1", "c"),
            lambda: shop.check(1, "dry", None, "bench 1", "d"),
            lambda: shop.end(1, "dewaxed", "", "bench 1", "e"),
            lambda: small.dip(reason="no"),
        ]
        for late in attempts:
            with refused("mould_ended"):
                late()

    def test_it_leaves_after_its_last_dip(self, small: SmallShop, shop: Shop) -> None:
        small.hang(at=T0 - h(3))
        small.dip(at=T0 - h(1))
        with refused("end_before_dip"):
            shop.end(1, "failed", "", "bench 1", "a", at=T0 - h(2))
        assert shop.end(1, "failed", "", "bench 1", "b", at=T0 - h(1)).at == T0 - h(1)

    def test_pressed_twice_each_is_written_once(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        small.dip()
        for _ in range(2):
            shop.note(1, "chipped", "bench 1", "a")
            shop.weigh(1, 4.0, "bench 1", "b")
            shop.wires(1, "", "bench 1", "c")
            shop.check(1, "dry", None, "bench 1", "d")
            shop.end(1, "failed", "", "bench 1", "e")
        assert len(small.records.facts(1)) == 7

    def test_times_that_cannot_be(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        for at, code in ((T0 + h(1), "note_in_future"), (T0 - h(1), "note_before_start")):
            with refused(code):
                shop.note(1, "chipped", "bench 1", f"k {at}", at=at)
        with refused("time_without_zone"):
            shop.note(1, "chipped", "bench 1", "k", at=datetime(2026, 3, 2, 8, 0))


class TestUndo:
    def test_a_dip_is_taken_back_and_stays_in_the_ledger(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        slip = small.dip()
        shop.withdraw(slip.number, "bench 1", "k", "wrong mould")
        assert shop.mould(1).stage is Stage.TO_DIP
        assert [fact.body.kind for fact in shop.audit(1).facts] == ["mould", "dip", "withdrawn"]
        assert shop.audit(1).coats[0].dipped_at is None

    def test_pressed_twice_it_is_taken_back_once(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        slip = small.dip()
        assert shop.withdraw(slip.number, "bench 1", "k") == shop.withdraw(slip.number, "bench 1", "k")

    def test_what_was_taken_back_cannot_be_again(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        slip = small.dip()
        undone = shop.withdraw(slip.number, "bench 1", "a")
        for number in (slip.number, undone.number):
            with refused("already_replaced"):
                shop.withdraw(number, "bench 1", f"b {number}")
            with refused("already_replaced"):
                shop.correct(number, slip.body, T0, "bench 1", f"c {number}")

    def test_only_the_last_dip(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        first = small.dip()
        small.clock.advance(60)
        small.dip(reason="rain coming")
        with refused("not_the_last_dip"):
            shop.withdraw(first.number, "bench 1", "k")

    def test_a_fact_there_is_not(self, shop: Shop) -> None:
        with pytest.raises(NotFound):
            shop.withdraw(99, "bench 1", "k")

    def test_an_end_by_a_slip(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        gone = shop.end(1, "scrapped", "", "bench 1", "a")
        shop.withdraw(gone.number, "bench 1", "b")
        assert shop.board().moulds[0].stage is Stage.TO_DIP


class TestCorrect:
    def test_a_dip_at_another_time(self, small: SmallShop, shop: Shop) -> None:
        """Dried two hours longer, it is due that much sooner."""
        small.hang(at=T0 - h(3))
        dip = small.dip()
        before = shop.mould(1).due_at
        shop.correct(dip.number, dip.body, T0 - h(2), "bench 1", "k")
        after = shop.mould(1).due_at
        assert before is not None
        assert after is not None
        assert before - after == pytest.approx(h(2), abs=minutes(5))
        assert shop.mould(1).last_dip_at == T0 - h(2)

    def test_from_another_tank(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        dip = small.dip()
        body = dip.body.model_copy(update={"tank": "old white"})
        shop.correct(dip.number, body, dip.at, "bench 1", "k")
        assert shop.audit(1).coats[0].tank_given == "old white"

    def test_the_same_again_is_written_once(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        dip = small.dip()
        one, two = (shop.correct(dip.number, dip.body, T0, "bench 1", "k") for _ in range(2))
        assert one == two

    def test_a_mould_is_changed_on_its_own_page(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        with refused("mould_not_corrected"):
            shop.correct(1, mould_body(recipe=WADER), T0, "bench 1", "k")

    def test_out_of_order(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        first = small.dip()
        small.clock.advance(3600)
        small.dip(reason="rain coming")
        with refused("dip_before_previous"):
            shop.correct(first.number, first.body, T0 + h(1), "bench 1", "k")


class TestBoard:
    def test_what_is_due_first_stands_first(self, small: SmallShop, shop: Shop) -> None:
        shop.add_room("loft")
        small.hang("Slow", zones=(HOLE,))
        small.hang("Fast")
        small.hang("Unknown", room_id=2)
        for number in (1, 2, 3):
            small.dip(number)
        small.clock.advance(60)
        small.hang("Bare")
        assert [m.name for m in shop.board().moulds] == ["Bare", "Fast", "Slow", "Unknown"]

    def test_before_anything_there_is_a_board(self, tmp_path: Path) -> None:
        with SmallShop(tmp_path / "other") as bare:
            board = bare.shop.board()
            assert (board.site, board.rooms, board.moulds, board.troubles) == (None, (), (), ())

    def test_looked_at_twice_at_one_instant_nothing_changed(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        small.dip()
        one, version = shop.refresh(), shop.changes.version
        assert shop.refresh() == one
        assert shop.changes.version == version

    def test_time_goes_on_and_pages_hear_of_it(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        small.dip()
        before = shop.changes.version
        small.clock.advance(60)
        assert shop.refresh().at == T0 + minutes(1)
        assert shop.changes.version == shop.board().version > before

    def test_a_board_that_cannot_be_made_anew_says_that_it_stands_still(
        self, small: SmallShop, shop: Shop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        small.hang()
        before = shop.board()
        small.clock.advance(600)
        monkeypatch.setattr(
            small.keeper, "look", failing(Unavailable("database_damaged", "It is damaged.", "Stop."))
        )
        for _ in range(2):
            with refused("database_damaged"):
                shop.refresh()
        (trouble,) = shop.board().troubles
        assert (trouble.code, trouble.since) == ("estimate_behind", before.at)
        assert trouble.words.endswith("what is shown is old. It is damaged. Stop.")
        assert (shop.board().at, shop.board().moulds) == (before.at, before.moulds)
        assert shop.board().version == shop.changes.version == before.version + 1
        monkeypatch.setattr(small.keeper, "look", failing(RuntimeError("a stack of ours")))
        with pytest.raises(RuntimeError):
            shop.refresh()
        assert "its log says" in shop.board().troubles[0].words
        monkeypatch.undo()
        assert shop.refresh().troubles == ()

    def test_what_is_recorded_is_recorded_whatever_befalls_the_look_after(
        self, small: SmallShop, shop: Shop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        small.hang()
        monkeypatch.setattr(small.keeper, "look", failing(RuntimeError("no")))
        noted = shop.note(1, "chipped beak", "bench 1", "k")
        assert small.records.facts(1)[-1] == noted
        assert shop.board().troubles[0].code == "estimate_behind"

    def test_troubles_are_told(self, small: SmallShop) -> None:
        trouble = Trouble("broker_down", "The broker cannot be reached.", T0)
        shop = Shop(
            small.records,
            small.keeper,
            small.shop.shelf,
            small.clock,
            small.shop.settings,
            troubles=lambda now: [trouble],
            test_message=lambda: ["console: sent"],
            demo=True,
            speed=60.0,
        )
        board = shop.board()
        assert (board.troubles, board.demo, board.speed) == ((trouble,), True, 60.0)
        assert shop.send_test_message() == ["console: sent"]

    def test_tanks_and_hands(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        shop.dip(1, "little white", None, "bench 2", "k")
        assert shop.tanks()[-1] == "little white"
        assert {"white", "grey"} <= set(shop.tanks())
        assert len(shop.tanks()) == len(set(shop.tanks()))
        assert shop.hands() == ["bench 1", "bench 2"]

    def test_a_tank_named_by_a_slip_is_not_offered_again(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        slip = shop.dip(1, "wite", None, "bench 2", "k")
        assert "wite" in shop.tanks()
        shop.withdraw(slip.number, "bench 2", "undo")
        assert "wite" not in shop.tanks()


class TestSiteRoomsSensors:
    def test_the_site(self, shop: Shop) -> None:
        assert shop.site() is None
        site = Site("Saltmarsh Bronze", 1500.0, "Europe/Lisbon", Units.US)
        shop.save_site(site)
        assert shop.site() == shop.board().site == site
        assert shop.board().rooms[0].pressure_pa == pytest.approx(84556, rel=1e-3)

    def test_the_altitude_counts_for_what_was_worked_out_before(self, small: SmallShop, shop: Shop) -> None:
        small.hang(zones=(HOLE,))
        small.dip()
        small.let_pass(3)
        low = small.now().zones[0].newest_saturation
        shop.save_site(Site("Saltmarsh Bronze", 3000.0, "UTC", Units.METRIC))
        high = small.now().zones[0].newest_saturation
        assert low is not None
        assert high is not None
        assert high < low - 0.01

    def test_a_room_with_more_wind_dries_faster(self, small: SmallShop, shop: Shop) -> None:
        small.hang(zones=(HOLE,))
        small.dip()
        before = shop.mould(1).due_at
        shop.change_room(Room(1, "shell room", 1.5))
        after = shop.mould(1).due_at
        assert before is not None
        assert after is not None
        assert after < before - minutes(30)

    def test_a_sensor_is_hung_in_a_room_there_is(self, small: SmallShop, shop: Shop) -> None:
        with refused("room_unknown"):
            shop.place_sensor("wall", 9)
        assert [(s.name, s.room_id) for s in shop.sensors()] == [("wall", 1)]
        shop.place_sensor("wall", None)
        assert [(s.name, s.room_id) for s in shop.sensors()] == [("wall", None)]

    def test_rejects_and_alerts_are_passed_on(self, shop: Shop) -> None:
        assert (shop.rejects(10), shop.alerts(10)) == ([], [])


class TestAudit:
    def test_a_whole_life(self, small: SmallShop, shop: Shop) -> None:
        """The bell waits until it is as sure as the shop wants: by then the coat is likely drier than its limit."""
        small.hang()
        small.dip()
        small.work_out()
        small.until_due()
        small.dip()
        small.let_pass(2)
        audit = shop.audit(1)
        first, second = audit.coats
        assert (first.early, first.late, second.early) == (False, False, False)
        assert first.ready_at is not None
        assert first.saturation_at_next_dip is not None
        assert 0.05 < first.saturation_at_next_dip < 0.34
        assert second.waited_s == pytest.approx(2 * 3600, abs=1)
        assert audit.chain_intact
        assert audit.chart[-1].at == small.clock.now()
        assert audit.now == shop.mould(1)

    def test_the_bell_and_the_audit_agree(self, small: SmallShop, shop: Shop) -> None:
        """Dipped the very moment the board said so, it is not called early afterwards."""
        small.hang(zones=(FACE, HOLE))
        small.dip()
        due = shop.mould(1).due_at
        assert due is not None
        small.let_pass((due - small.clock.now()).total_seconds() / 3600, every_s=300)
        due = small.now().due_at
        assert due is not None
        if due > small.clock.now():
            small.clock.jump(due)
        small.dip()
        assert not shop.audit(1).coats[0].early

    def test_of_one_that_left_it_ends_there(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        small.dip()
        small.let_pass(2)
        shop.end(1, "failed", "ran out", "bench 1", "end")
        small.let_pass(24)
        audit = shop.audit(1)
        assert audit.chart[-1].at == T0 + h(2)
        assert audit.coats[0].waited_s == 2 * 3600
        assert audit.now.stage is Stage.ENDED

    def test_of_one_that_moved_the_air_is_that_of_both_rooms(self, small: SmallShop, shop: Shop) -> None:
        shop.add_room("back room")
        small.hang_sensor("back", 2, 0)
        small.hang()
        small.dip()
        small.clock.advance(2 * 3600)
        small.send(readings(T0, 2, humidity=0.5, every_s=300.0))
        shop.change_mould(1, mould_body(recipe=TWO_COATS, room_id=2), "bench 1", "move")
        small.clock.advance(2 * 3600)
        small.send(readings(T0 + h(2), 2, humidity=0.8, sensor="back", every_s=300.0))
        row = shop.audit(1).coats[0]
        assert row.humidity_range == pytest.approx((0.5, 0.8))
        assert row.air_gap_s == 0.0

    def test_in_a_room_never_measured_facts_alone(self, small: SmallShop, shop: Shop) -> None:
        shop.add_room("loft")
        small.hang(room_id=2)
        small.dip()
        audit = shop.audit(1)
        assert (audit.chart, audit.coats[0].ready_at) == ((), None)
        assert audit.coats[0].dipped_at == T0


class TestManyHands:
    """Two benches and a phone press at the same time."""

    def test_eight_dip_the_same_mould_one_wins_and_the_others_are_told(
        self, small: SmallShop, shop: Shop
    ) -> None:
        small.hang()
        dip = partial(shop.dip, 1, "", None, "bench 1", coat=1)
        found = all_at_once(*(partial(dip, f"press {i}") for i in range(HANDS)))
        won = [one for one in found if isinstance(one, Fact)]
        told = [one for one in found if isinstance(one, Conflict)]
        assert len(won) == 1
        assert len(told) == HANDS - 1
        assert {error.code for error in told} <= {"coat_out_of_order", "dip_before_previous", "dip_early"}
        assert shop.mould(1).coats_given == 1

    def test_without_saying_which_coat_too(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        dip = partial(shop.dip, 1, "", None, "bench 1", early_reason="in a hurry")
        found = all_at_once(*(partial(dip, f"press {i}") for i in range(HANDS)))
        assert sum(isinstance(one, Fact) for one in found) == 1
        assert all(isinstance(one, Fact | Conflict) for one in found)

    def test_eight_presses_of_one_page_make_one_fact(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        found = all_at_once(*[lambda: shop.dip(1, "", None, "bench 1", "the same")] * HANDS)
        assert all(one == found[0] for one in found)
        assert isinstance(found[0], Fact)
        assert len(small.records.facts(1)) == 2

    def test_eight_presses_that_hang_up_one_wax(self, shop: Shop) -> None:
        found = all_at_once(*[lambda: shop.start_mould(mould_body(), "bench 1", "the same")] * HANDS)
        assert len({getattr(one, "id", one) for one in found}) == 1
        assert len(shop.all_moulds()) == 1

    def test_one_undoes_while_another_dips_on(self, small: SmallShop, shop: Shop) -> None:
        """Whoever is first, no coat is left hanging over one that was taken back."""
        for number in range(1, 5):
            small.hang(f"wax {number}")
            first = small.dip(number)
            small.clock.advance(60)
            all_at_once(
                partial(shop.withdraw, first.number, "bench 1", f"undo {number}"),
                partial(shop.dip, number, "", None, "bench 2", f"on {number}", "in a hurry"),
            )
            coats = [f.body.coat for f in holding(small, number) if isinstance(f.body, DipBody)]
            assert coats in ([1], [1, 2])
            assert coats == sorted(coats)

    def test_one_ends_it_while_another_dips(self, small: SmallShop, shop: Shop) -> None:
        small.hang()
        small.clock.advance(60)
        all_at_once(
            lambda: shop.end(1, "scrapped", "", "bench 1", "end"),
            lambda: shop.dip(1, "", None, "bench 2", "dip"),
        )
        kinds = [fact.body.kind for fact in small.records.facts(1)]
        assert kinds in (["mould", "ended"], ["mould", "dip", "ended"])

    def test_readings_looks_audits_and_notes_at_once(self, small: SmallShop, shop: Shop) -> None:
        small.hang(zones=(FACE, HOLE))
        small.dip()
        small.clock.advance(1800)

        def send() -> int:
            for i in range(6):
                small.send(readings(T0 + minutes(5 * i), 1 / 12, every_s=60.0))
            return 6

        found = all_at_once(
            send,
            *[shop.refresh] * 3,
            *[lambda: shop.audit(1)] * 2,
            *(partial(shop.note, 1, f"note {i}", "bench 1", f"press {i}") for i in range(4)),
        )
        assert not [one for one in found if isinstance(one, Exception)]
        assert len(holding(small)) == 6
        assert small.records.verify_chain() is None


def test_a_mould_body_without_a_zone_of_time_is_refused_in_words(small: SmallShop, shop: Shop) -> None:
    body: MouldBody = mould_body(wanted_by=datetime(2026, 4, 1, 12, 0))
    with pytest.raises(ShopError):
        shop.start_mould(body, "bench 1", "k")


def test_a_note_is_at_the_time_it_is_told_unless_it_says_otherwise(small: SmallShop, shop: Shop) -> None:
    small.hang(at=T0 - h(2))
    assert shop.note(1, "now", "bench 1", "a").at == T0
    earlier = shop.note(1, "then", "bench 1", "b", at=(T0 - h(1)).astimezone(timezone(timedelta(hours=-8))))
    assert earlier.at == T0 - h(1)
    assert earlier.at.tzinfo is UTC
    assert earlier.body == NoteBody(text="then")


class TestReplies:
    """With a desk of its own: two benches, links signed with a key of the test's."""

    @pytest.fixture
    def shop(self, small: SmallShop) -> Shop:
        rules = read_rules('[[people]]\nname = "bench 1"\n[[people]]\nname = "bench 2"\n')
        self.links = ReplyLinks(bytes(32), "http://shed.local:8321")
        small.shop._replies = ReplyDesk(small.records, rules, small.clock, self.links)
        small.hang("Heron")
        return small.shop

    def ring(self, small: SmallShop, coat: int = 1) -> AlertRow:
        key = f"next-dip-due/1/{coat}"
        new = NewAlert(key, "next dip due", "Heron", 1, small.clock.now(), f"Heron: dip coat {coat}", "", "")
        return small.records.tell(new, ["bench 1", "bench 2"])

    def token(self, row: AlertRow, small: SmallShop) -> str:
        return self.links.token(Link((row.id,), "bench 1", small.clock.now() + timedelta(days=1)))

    def test_the_board_shows_who_comes_at_once(self, small: SmallShop, shop: Shop) -> None:
        row = self.ring(small)
        before = shop.refresh().version
        wanted = shop.reply(self.token(row, small), Said.ON_MY_WAY)
        assert wanted.own == shop.board().hands[0]
        assert shop.board().hands[0].name == "bench 1"
        assert shop.board().version == before + 1
        shop.reply(self.token(row, small), Said.ON_MY_WAY)
        assert shop.board().version == before + 1, "said twice, nothing is new"

    def test_it_goes_with_the_dip_before_any_message_is_settled(self, small: SmallShop, shop: Shop) -> None:
        row = self.ring(small)
        token = self.token(row, small)
        shop.reply(token, Said.ON_MY_WAY)
        dip = shop.dip(1, "white", None, "bench 1", "key a")
        assert shop.board().called.bells == shop.board().hands == ()
        assert small.records.open_alerts() != []
        for act in (shop.wanted, lambda t: shop.reply(t, Said.LATER)):
            with pytest.raises(LinkOver):
                act(token)
        shop.withdraw(dip.number, "bench 1", "key b")
        assert [hand.name for hand in shop.board().hands] == ["bench 1"]

    def test_it_goes_when_it_runs_out_and_when_it_is_taken_back(self, small: SmallShop, shop: Shop) -> None:
        row = self.ring(small)
        shop.reply_to_mould(1, "bench 2", Said.ON_MY_WAY)
        small.clock.advance(1800)
        assert shop.refresh().hands == ()
        shop.reply_to_alert(row.id, "bench 2", Said.LATER)
        assert [hand.said for hand in shop.board().hands] == ["later"]
        shop.reply_to_mould(1, "bench 2", Said.TAKEN_BACK)
        assert shop.board().hands == ()

    def test_over_a_restart_it_stays(self, small: SmallShop, shop: Shop) -> None:
        self.ring(small)
        shop.reply_to_mould(1, "Ann", Said.ON_MY_WAY)
        small.begin()
        assert [hand.name for hand in small.shop.refresh().hands] == ["Ann"]

    def test_to_a_mould_that_is_not_there_or_wants_nobody(self, shop: Shop) -> None:
        with pytest.raises(NotFound):
            shop.reply_to_mould(99, "bench 1", Said.ON_MY_WAY)
        with pytest.raises(Conflict):
            shop.reply_to_mould(1, "bench 1", Said.ON_MY_WAY)
        with pytest.raises(NotFound):
            shop.reply_to_alert(99, "bench 1", Said.ON_MY_WAY)

    def test_a_look_that_fails_does_not_lose_the_word(
        self, small: SmallShop, shop: Shop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        row = self.ring(small)
        monkeypatch.setattr(small.keeper, "look", failing(Unavailable("disk_full", "Full.", "Make room.")))
        shop.reply(self.token(row, small), Said.ON_MY_WAY)
        assert [r.what for r in small.records.open_alerts()[0].replies] == ["on my way"]
        assert shop.board().troubles[0].code == "estimate_behind"


def test_an_audit_says_what_it_was_worked_out_with(small: SmallShop, shop: Shop) -> None:
    small.hang()
    small.dip()
    small.work_out()
    plain = shop.audit(1)
    assert (plain.heard, plain.learned) == (0, False)
    small.let_pass(2)
    shop.check(1, "dry", None, "bench 1", next(small.keys))
    small.work_out()
    told = shop.audit(1)
    assert (told.heard, told.learned) == (1, True)
    assert told.chart[-1].newest_saturation < plain.chart[-1].newest_saturation
    assert told.chart[-1].newest_saturation == pytest.approx(small.now().zones[0].newest_saturation, abs=2e-3)
    small.hang("Curlew")
    small.dip(2)
    other = shop.audit(2)
    assert (other.heard, other.learned) == (0, True)
