"""One look at everything: rooms, sensors and moulds as they come, go, fall silent, move and are restarted."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from service.drying.history import play_back
from service.drying.solver import Dried, advance
from service.drying.zone import ZoneState
from service.reading import Freshness, Quantity
from service.room import estimate, keeper
from service.room.keeper import COMES_LATE
from service.room.progress import progress
from service.room.sureness import Sureness
from service.room.views import AirWrong, MouldNow, RoomNow, Stage
from tests.service.room.cases import (
    FACE,
    HOLE,
    T0,
    TWO_COATS,
    WADER,
    h,
    minutes,
    mould_body,
    reading,
    readings,
)
from tests.service.room.small_shop import SmallShop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[SmallShop]:
    with SmallShop(tmp_path) as made:
        yield made


def room(shop: SmallShop, number: int = 1) -> RoomNow:
    return next(r for r in shop.keeper.look(shop.clock.now()).rooms if r.room.id == number)


def mould(shop: SmallShop, number: int = 1) -> MouldNow:
    return next(m for m in shop.keeper.look(shop.clock.now()).moulds if m.id == number)


def from_the_facts(shop: SmallShop, number: int = 1) -> MouldNow:
    """What a service finds that starts with nothing but the records."""
    for m in shop.records.mould_ids():
        shop.records.drop_profile(m)
    shop.begin()
    return mould(shop, number)


def wetness(m: MouldNow) -> list[float]:
    return [s for zone in m.zones for s in zone.coat_saturations]


class Counted:
    """Counts how many lives were played back."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.lives = 0

        def counting(lives: list, *rest: object) -> object:  # type: ignore[type-arg]
            self.lives += len(lives)
            return play_back(lives, *rest)  # type: ignore[arg-type]

        monkeypatch.setattr(estimate, "play_back", counting)


class TestNothingYet:
    def test_no_rooms(self, shop: SmallShop) -> None:
        seen = shop.keeper.look(shop.clock.now())
        assert (seen.rooms, seen.moulds, seen.at) == ((), (), T0)

    def test_a_room_without_sensors(self, shop: SmallShop) -> None:
        shop.shop.add_room("shell room")
        found = room(shop)
        assert (found.temperature_k, found.freshness, found.sensors) == (None, Freshness.NEVER, ())

    def test_a_mould_in_it_is_due_and_once_dipped_nothing_can_be_said(self, shop: SmallShop) -> None:
        shop.shop.add_room("shell room")
        shop.hang()
        assert (mould(shop).stage, mould(shop).due_at) == (Stage.TO_DIP, T0)
        shop.dip()
        assert (mould(shop).stage, mould(shop).due_at, mould(shop).zones) == (Stage.DRYING, None, ())

    def test_a_sensor_that_hangs_nowhere_is_no_rooms(self, shop: SmallShop) -> None:
        shop.shop.add_room("shell room")
        shop.hang_sensor("wall", None, 24)
        assert room(shop).temperature_k is None
        assert [s.name for s in shop.keeper.sensors_now(T0)] == ["wall"]


class TestReadings:
    def test_come_in_as_they_are_stored(self, shop: SmallShop) -> None:
        shop.furnish()
        shop.clock.advance(300)
        shop.send(readings(T0, 1 / 12, temperature_k=290.0))
        assert room(shop).temperature_k == pytest.approx(292.0, abs=2.1)

    def test_of_a_sensor_that_hangs_nowhere_are_left_alone(self, shop: SmallShop) -> None:
        shop.furnish()
        before = room(shop).temperature_k
        shop.records.hear_sensor("stray", T0)
        shop.send(readings(T0, 1 / 12, temperature_k=250.0, sensor="stray"))
        assert room(shop).temperature_k == before

    def test_a_sensor_placed_later_counts_with_what_it_sent_before(self, shop: SmallShop) -> None:
        shop.shop.add_room("shell room")
        shop.hang_sensor("wall", None, 24)
        shop.hang(at=T0 - h(6))
        shop.dip(at=T0 - h(5), reason="no sensor yet")
        assert mould(shop).zones == ()
        shop.shop.place_sensor("wall", 1)
        found = mould(shop)
        assert found.zones[0].newest_saturation is not None
        assert found.zones[0].newest_saturation < 0.6
        assert wetness(found) == pytest.approx(wetness(from_the_facts(shop)), abs=1e-12)

    def test_ready_by_air_from_before_the_first_reading_it_says_so(self, shop: SmallShop) -> None:
        shop.shop.add_room("shell room")
        shop.hang(at=T0 - h(31))
        shop.dip(at=T0 - h(30))
        shop.hang_sensor("wall", 1, 0)
        shop.let_pass(0.5)
        found = mould(shop)
        assert found.stage is Stage.READY
        assert found.unmeasured_s == pytest.approx(30 * 3600, abs=600)
        assert shop.shop.audit(1).coats[0].air_gap_s == pytest.approx(30 * 3600, abs=600)

    def test_a_second_sensor_changes_the_past_as_well(self, shop: SmallShop) -> None:
        shop.furnish(humidity=0.5)
        shop.hang(at=T0 - h(6))
        shop.dip(at=T0 - h(5))
        alone = wetness(mould(shop))
        shop.hang_sensor("beam", 1, 24, humidity=0.9)
        assert wetness(mould(shop))[0] > alone[0] + 0.02

    def test_a_sensor_that_never_should_have_hung_here_leaves_no_air(self, shop: SmallShop) -> None:
        shop.furnish()
        shop.hang(at=T0 - h(6))
        shop.dip(at=T0 - h(5))
        shop.shop.place_sensor("wall", None)
        assert (mould(shop).zones, mould(shop).due_at) == ((), None)
        shop.shop.place_sensor("wall", 1)
        assert mould(shop).due_at is not None

    def test_a_sensor_taken_down_later_leaves_the_air_it_measured(self, shop: SmallShop) -> None:
        shop.furnish()
        shop.hang()
        shop.dip()
        shop.let_pass(2)
        before = wetness(mould(shop))
        shop.shop.place_sensor("wall", None)
        found = mould(shop)
        assert wetness(found) == pytest.approx(before, abs=3e-3)
        assert found.guessing_since is not None

    def test_a_sensor_carried_to_another_room_leaves_its_past_behind(self, shop: SmallShop) -> None:
        """And brings none of it along."""
        shop.furnish()
        shop.shop.add_room("loft")
        for name, number in (("Heron", 1), ("Curlew", 2)):
            shop.hang(name, room_id=number)
            shop.dip(number, reason="no sensor there" if number == 2 else None)
        shop.let_pass(3)
        before = wetness(mould(shop, 1))
        shop.shop.place_sensor("wall", 2)
        assert wetness(mould(shop, 1)) == pytest.approx(before, abs=3e-3)
        assert mould(shop, 2).zones == ()
        shop.let_pass(1, humidity=0.9)
        assert (room(shop, 1).humidity, room(shop, 2).humidity) == pytest.approx((0.5, 0.9))
        assert shop.shop.audit(1).coats[0].humidity_range == (0.5, 0.5)
        shop.begin()
        assert (room(shop, 1).humidity, room(shop, 2).humidity) == pytest.approx((0.5, 0.9))


class TestSilence:
    def test_the_estimate_goes_on_from_the_last_good_air_and_says_so(self, shop: SmallShop) -> None:
        shop.furnish()
        shop.hang()
        shop.dip()
        before = mould(shop).zones[0].newest_saturation
        assert mould(shop).guessing_since is None
        shop.silence(6)
        found = mould(shop)
        assert found.guessing_since == T0 - minutes(5)
        assert found.zones[0].newest_saturation is not None
        assert before is not None
        assert found.zones[0].newest_saturation < before

    def test_to_the_instant(self, shop: SmallShop) -> None:
        """The playing sensor sent last five minutes ago, and counts as stale after thirty."""
        shop.furnish()
        shop.hang()
        shop.clock.advance(25 * 60)
        assert room(shop).freshness is Freshness.LATE
        assert mould(shop).guessing_since is None
        shop.clock.advance(1)
        assert room(shop).freshness is Freshness.STALE
        assert mould(shop).guessing_since == T0 - minutes(5)

    def test_when_it_speaks_again_the_guessing_ends(self, shop: SmallShop) -> None:
        shop.furnish()
        shop.hang()
        shop.silence(6)
        shop.let_pass(0.2)
        assert mould(shop).guessing_since is None

    def test_one_of_two_that_falls_silent_is_not_missed(self, shop: SmallShop) -> None:
        shop.furnish()
        shop.hang_sensor("beam", 1, 24, humidity=0.6)
        shop.let_pass(2)
        found = room(shop)
        assert found.freshness is Freshness.FRESH
        assert found.humidity == pytest.approx(0.5)


class TestAirOfBefore:
    """What a room's sensor told before the mould came."""

    def silent_for(self, shop: SmallShop, hours: float) -> MouldNow:
        """Dipped after so many hours of silence, and looked at two hours later."""
        shop.furnish(hours_of_air=48)
        shop.silence(hours, every_s=3600.0)
        shop.hang()
        shop.dip()
        shop.silence(2)
        return mould(shop)

    def test_counts_for_a_day_live_in_the_audit_and_after_a_restart(self, shop: SmallShop) -> None:
        found = self.silent_for(shop, 20)
        assert found.due_at is not None
        assert found.guessing_since == T0 - minutes(5)
        audit = shop.shop.audit(1)
        assert audit.chart[-1].newest_saturation == pytest.approx(wetness(found)[-1], abs=3e-3)
        assert audit.coats[0].air_gap_s == pytest.approx(2 * 3600, abs=300)
        assert wetness(from_the_facts(shop)) == pytest.approx(wetness(found), abs=3e-3)

    def test_after_that_nothing_is_known_until_the_sensor_speaks(self, shop: SmallShop) -> None:
        found = self.silent_for(shop, 30)
        assert (found.due_at, found.zones, found.guessing_since) == (None, (), None)
        assert shop.shop.audit(1).chart == ()
        shop.let_pass(1, humidity=0.8)
        again = mould(shop)
        assert again.unmeasured_s == pytest.approx(2 * 3600, abs=600)
        assert shop.shop.audit(1).coats[0].humidity_range == pytest.approx((0.8, 0.8))
        assert wetness(again) == pytest.approx(wetness(from_the_facts(shop)), abs=3e-3)

    def test_a_room_left_long_ago_lends_no_air_to_a_mould_moved_there(self, shop: SmallShop) -> None:
        shop.furnish()
        shop.shop.add_room("loft")
        shop.hang_sensor("beam", 2, 24, humidity=0.95)
        shop.clock.advance(20 * 60)
        shop.shop.place_sensor("beam", None)
        shop.let_pass(48, every_s=7200.0)
        shop.hang()
        shop.dip()
        shop.let_pass(1)
        shop.shop.change_mould(1, mould_body("Heron", TWO_COATS, room_id=2), "bench 1", "move")
        for _ in range(3):  # more than the days that are looked back
            shop.let_pass(48, every_s=7200.0)
            found = mould(shop)
            assert found.guessing_since == T0 + minutes(20) + h(49) - minutes(2.5)
            assert wetness(found) == pytest.approx(wetness(from_the_facts(shop)), abs=3e-3)
        assert found.stage is Stage.READY


class TestSensorsThatDiffer:
    def test_the_room_says_so_and_the_mould_waits_as_in_the_damper_air(self, shop: SmallShop) -> None:
        shop.furnish(humidity=0.55)
        shop.hang()
        shop.dip()
        alone = mould(shop).due_at
        assert alone is not None
        assert room(shop).sensors_differ == ()
        shop.hang_sensor("door", 1, 24, humidity=0.05)
        assert room(shop).sensors_differ[0] == "Sensors differ: door 5 %, wall 55 %: one of them is wrong"
        assert room(shop).sensors_differ_since == T0 - h(24)
        found = mould(shop).due_at
        assert found is not None
        assert abs(found - alone) < minutes(5)
        assert shop.shop.audit(1).now.due_at == found

    def test_and_no_more_once_the_wrong_one_is_taken_down(self, shop: SmallShop) -> None:
        shop.furnish(humidity=0.55)
        shop.hang_sensor("door", 1, 24, humidity=0.05)
        assert room(shop).sensors_differ
        shop.let_pass(1 / 3, every_s=300.0, humidity=0.55)
        assert room(shop).sensors_differ
        shop.shop.place_sensor("door", None)
        assert room(shop).sensors_differ == ()
        assert room(shop).sensors_differ_since is None

    def test_one_that_fell_silent_is_neither_named_nor_believed(self, shop: SmallShop) -> None:
        shop.furnish(hours_of_air=0)
        shop.hang_sensor("door", 1, 0)
        shop.hang()
        shop.dip()

        def both(minutes_: int, *names: str) -> None:
            for _ in range(minutes_):
                for name in names:
                    humidity = 0.9 if name == "door" else 0.5
                    shop.send(readings(shop.clock.now(), 1 / 60, humidity=humidity, sensor=name))
                shop.clock.advance(60)
                shop.shop.refresh()

        both(120, "wall", "door")
        assert room(shop).sensors_differ
        assert room(shop).humidity == pytest.approx(0.9)
        both(10, "wall")
        assert room(shop).sensors_differ == ()
        assert room(shop).humidity == pytest.approx(0.5)
        both(20, "wall")
        assert wetness(mould(shop)) == pytest.approx(wetness(from_the_facts(shop)), abs=3e-3)

    def test_one_the_watch_calls_silent_is_not_named_though_the_book_still_holds_it(
        self, shop: SmallShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        shop.furnish(humidity=0.55)
        shop.hang_sensor("door", 1, 24, humidity=0.05)
        assert room(shop).sensors_differ
        heard = shop.sensors_now(T0)
        stale = [replace(s, freshness=Freshness.STALE) if s.name == "door" else s for s in heard]
        monkeypatch.setattr(shop.keeper, "_sensors", lambda now: stale)
        assert room(shop).sensors_differ == ()


class TestTakenDown:
    def test_it_is_out_at_once_in_the_room_it_left(self, shop: SmallShop) -> None:
        shop.furnish()
        shop.shop.add_room("loft")
        shop.hang()
        shop.dip()
        shop.let_pass(1)
        shop.shop.place_sensor("wall", 2)
        assert room(shop, 1).freshness is Freshness.NEVER
        assert room(shop, 1).last_good == T0 + h(1) - minutes(2.5)
        shop.let_pass(1)
        assert shop.shop.audit(1).coats[0].air_gap_s == pytest.approx(3600, abs=300)
        assert wetness(mould(shop)) == pytest.approx(wetness(from_the_facts(shop)), abs=3e-3)


def test_a_mould_that_cannot_be_worked_out_stops_no_other_and_is_named(
    shop: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.furnish()
    odd = FACE.model_copy(update={"width_m": 0.123})
    shop.hang()
    shop.hang("Curlew", zones=(odd,))

    def stubborn(states: list[ZoneState], *rest: Any) -> list[Dried]:
        if any(state.shape.width_m == odd.width_m for state in states):
            raise FloatingPointError
        return advance(states, *rest)

    monkeypatch.setattr(estimate, "advance", stubborn)
    for number in (1, 2):
        shop.dip(number)
    shop.let_pass(1)
    heron, curlew = mould(shop, 1), mould(shop, 2)
    assert (heron.unworkable, curlew.unworkable) == (False, True)
    assert heron.due_at is not None
    assert (curlew.due_at, curlew.zones) == (None, ())
    (trouble,) = shop.shop.board().troubles
    assert trouble.code == "mould_numbers"
    assert trouble.words == "Curlew cannot be worked out: look whether its sizes and its recipe are right"
    monkeypatch.undo()
    assert shop.shop.refresh().troubles == ()
    assert mould(shop, 2).due_at is not None


class TestLateReadings:
    """The disk was full, or the broker away: what was measured meanwhile comes in one go."""

    def dipped(self, shop: SmallShop) -> None:
        shop.furnish()
        shop.hang()
        shop.dip()
        shop.silence(3)

    def test_they_change_what_was_worked_out(self, shop: SmallShop) -> None:
        self.dipped(shop)
        guessed = wetness(mould(shop))
        shop.send(readings(T0, 3, humidity=0.95, every_s=300.0))
        known = wetness(mould(shop))
        assert known[0] > guessed[0] + 0.05
        assert known == pytest.approx(wetness(from_the_facts(shop)), abs=1e-12)

    def test_they_are_noted_as_a_change_of_the_past(self, shop: SmallShop) -> None:
        self.dipped(shop)
        before = shop.keeper.past.number
        shop.send(readings(T0, 3, humidity=0.95, every_s=300.0))
        assert shop.keeper.past.number == before + 1
        assert shop.keeper.past.other_since(before, {1}, T0)
        assert not shop.keeper.past.other_since(before, {1}, T0 - h(0.01))
        assert not shop.keeper.past.other_since(before, {2}, T0 + h(9))

    def test_what_comes_in_time_is_no_change_of_the_past(self, shop: SmallShop) -> None:
        self.dipped(shop)
        before = shop.keeper.past.number
        shop.send([reading(shop.clock.now() - COMES_LATE, 294.0)])
        assert shop.keeper.past.number == before

    def test_readings_a_few_minutes_old_start_nothing_over(
        self, shop: SmallShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        self.dipped(shop)
        counted = Counted(monkeypatch)
        shop.send([reading(shop.clock.now() - COMES_LATE, 294.0)])
        mould(shop)
        assert counted.lives == 0
        shop.send([reading(shop.clock.now() - COMES_LATE - minutes(0.001), 294.0)])
        mould(shop)
        assert counted.lives == 1
        mould(shop)
        assert counted.lives == 1

    def test_only_moulds_of_that_room_are_started_over(
        self, shop: SmallShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        self.dipped(shop)
        shop.shop.add_room("back room")
        shop.hang_sensor("back", 2, 1)
        shop.hang("Curlew", room_id=2)
        shop.dip(2)
        counted = Counted(monkeypatch)
        shop.send(readings(T0, 1, sensor="back", every_s=300.0))
        mould(shop)
        assert counted.lives == 1

    def test_a_profile_saved_before_they_came_is_not_taken_back(self, shop: SmallShop) -> None:
        self.dipped(shop)
        shop.keeper.save()
        shop.send(readings(T0, 3, humidity=0.95, every_s=300.0))
        known = wetness(mould(shop))
        shop.begin()
        assert wetness(mould(shop)) == pytest.approx(known, abs=1e-12)


class TestTwoRooms:
    @pytest.fixture
    def two(self, shop: SmallShop) -> SmallShop:
        shop.furnish()
        shop.shop.add_room("back room")
        shop.hang_sensor("back", 2, 24, humidity=0.9)
        return shop

    def let_pass(self, shop: SmallShop, hours: float) -> None:
        for _ in range(round(hours * 2)):
            start = shop.clock.now()
            shop.clock.advance(1800)
            shop.send(readings(start, 0.5, humidity=0.5, every_s=300.0))
            shop.send(readings(start, 0.5, humidity=0.9, sensor="back", every_s=300.0))
            shop.shop.refresh()

    def test_each_has_its_own_air_and_its_own_moulds(self, two: SmallShop) -> None:
        two.hang("Heron", room_id=1)
        two.hang("Curlew", room_id=2)
        two.dip(1)
        two.dip(2)
        self.let_pass(two, 4)
        assert room(two, 1).humidity == pytest.approx(0.5)
        assert room(two, 2).humidity == pytest.approx(0.9)
        assert wetness(mould(two, 1))[0] < wetness(mould(two, 2))[0] - 0.05
        assert (mould(two, 1).room.id, mould(two, 2).room.id) == (1, 2)

    def test_one_without_air_does_not_stop_the_other(self, two: SmallShop) -> None:
        two.shop.add_room("loft")
        two.hang("Heron", room_id=1)
        two.hang("Curlew", room_id=3)
        two.dip(1)
        two.dip(2)
        assert mould(two, 1).due_at is not None
        assert (mould(two, 2).due_at, mould(two, 2).zones) == (None, ())

    def move_one_of_two(self, two: SmallShop) -> None:
        """Both hung and dipped in the first room; three hours later Heron goes to the second."""
        for name in ("Heron", "Curlew"):
            two.hang(name, room_id=1)
        for number in (1, 2):
            two.dip(number)
        self.let_pass(two, 3)
        two.shop.change_mould(1, mould_body("Heron", TWO_COATS, room_id=2), "bench 1", "move")

    def test_a_mould_moved_goes_on_in_the_other_air(self, two: SmallShop) -> None:
        self.move_one_of_two(two)
        assert wetness(mould(two, 1)) == pytest.approx(wetness(mould(two, 2)), abs=1e-9)
        self.let_pass(two, 3)
        moved, stayed = mould(two, 1), mould(two, 2)
        assert (moved.room.id, stayed.room.id) == (2, 1)
        assert moved.started_at == T0
        assert wetness(moved)[0] > wetness(stayed)[0] + 0.1

    def test_a_move_written_down_late_counts_from_when_it_was(self, two: SmallShop) -> None:
        self.move_one_of_two(two)
        self.let_pass(two, 3)
        late = mould_body("Curlew", TWO_COATS, room_id=2)
        two.shop.change_mould(2, late, "bench 1", "late", T0 + h(3))
        assert wetness(mould(two, 2)) == pytest.approx(wetness(mould(two, 1)), abs=3e-3)

    def test_and_played_back_it_had_both(self, two: SmallShop) -> None:
        """Within 0.003 of saturation; in either room alone it would be off by ten times that."""
        two.hang("Heron", room_id=1)
        two.dip(1)
        self.let_pass(two, 3)
        two.shop.change_mould(1, mould_body("Heron", TWO_COATS, room_id=2), "bench 1", "move")
        self.let_pass(two, 3)
        live = wetness(mould(two))
        assert live == pytest.approx(wetness(from_the_facts(two)), abs=3e-3)
        two.shop.change_mould(1, mould_body("Heron", TWO_COATS, room_id=1), "bench 1", "back")
        self.let_pass(two, 2)
        assert wetness(mould(two)) == pytest.approx(wetness(from_the_facts(two)), abs=3e-3)

    def test_a_move_into_colder_air_is_a_swing_and_what_the_room_did_before_is_not(
        self, two: SmallShop
    ) -> None:
        two.shop.add_room("cold room")
        two.hang_sensor("north", 3, 10, temperature_k=280.0)
        two.hang_sensor("north", 3, 1, temperature_k=290.15)
        two.hang("Heron", WADER)
        two.dip(1)
        self.let_pass(two, 1)
        two.shop.change_mould(1, mould_body("Heron", WADER, room_id=3), "bench 1", "move")
        start = two.clock.now()
        two.clock.advance(1800)
        two.send(readings(start, 0.5, temperature_k=290.15, sensor="north", every_s=300.0))
        assert room(two, 3).swing_k == pytest.approx(4.0)
        fault = next(f for f in two.shop.audit(1).coats[0].air_faults if f.wrong is AirWrong.SWUNG)
        assert fault.worst == pytest.approx(4.0)

    def to_the_loft(self, shop: SmallShop) -> None:
        """Three hours in the shell room, then to a room without a sensor."""
        shop.shop.add_room("loft")
        number = shop.hang("Heron", room_id=1).id
        shop.dip(number)
        self.let_pass(shop, 3)
        shop.shop.change_mould(number, mould_body("Heron", TWO_COATS, room_id=3), "bench 1", "move")

    def test_moved_to_a_room_without_air_it_goes_on_in_the_air_it_brought_and_says_so(
        self, two: SmallShop
    ) -> None:
        two.hang("Curlew", room_id=1)
        two.dip(1)
        self.to_the_loft(two)
        brought, stayed = mould(two, 2), mould(two, 1)
        assert brought.guessing_since == T0 + h(3) - minutes(2.5)
        assert stayed.guessing_since is None
        two.let_pass(6, humidity=0.9)
        assert mould(two, 2).guessing_since == brought.guessing_since
        assert mould(two, 2).stage is Stage.READY
        assert room(two, 3).temperature_k is None

    def test_and_the_record_counts_that_time_as_not_measured(self, two: SmallShop) -> None:
        self.to_the_loft(two)
        self.let_pass(two, 2)
        assert wetness(mould(two)) == pytest.approx(wetness(from_the_facts(two)), abs=3e-3)
        assert two.shop.audit(1).coats[0].air_gap_s == pytest.approx(2 * 3600, abs=300)

    def test_the_first_reading_there_ends_the_guessing(self, two: SmallShop) -> None:
        self.to_the_loft(two)
        two.hang_sensor("beam", 3, 0)
        self.let_pass(two, 1)
        start = two.clock.now()
        two.clock.advance(1800)
        two.send(readings(start, 0.5, humidity=0.9, sensor="beam", every_s=300.0))
        found = mould(two)
        assert found.guessing_since is None
        assert wetness(found) == pytest.approx(wetness(from_the_facts(two)), abs=3e-3)

    def test_a_mould_hung_first_in_a_room_without_air_brings_none(self, two: SmallShop) -> None:
        two.shop.add_room("loft")
        two.hang("Heron", room_id=3)
        two.dip(1)
        assert (mould(two).due_at, mould(two).zones, mould(two).guessing_since) == (None, (), None)

    def test_a_move_is_forecast_at_once(self, two: SmallShop) -> None:
        for name in ("Heron", "Curlew"):
            two.hang(name, room_id=1)
        for number in (1, 2):
            two.dip(number)
        dry = mould(two, 1).due_at
        two.shop.change_mould(1, mould_body("Heron", TWO_COATS, room_id=2), "bench 1", "move")
        damp = mould(two, 1).due_at
        assert dry is not None
        assert damp is None or damp > dry + minutes(30)
        assert mould(two, 2).due_at == dry

    def test_moved_out_of_a_room_without_air_the_new_rooms_air_stands_in(self, two: SmallShop) -> None:
        two.shop.add_room("loft")
        two.hang("Heron", room_id=3)
        two.dip(1)
        self.let_pass(two, 2)
        two.shop.change_mould(1, mould_body("Heron", TWO_COATS, room_id=1), "bench 1", "move")
        found = mould(two)
        assert found.due_at is not None
        assert wetness(found)[0] < 0.9
        assert found.unmeasured_s == pytest.approx(2 * 3600, abs=300)
        assert two.shop.audit(1).coats[0].air_gap_s == pytest.approx(2 * 3600, abs=300)

    def test_late_readings_of_the_old_room_count_for_one_that_moved(self, two: SmallShop) -> None:
        two.hang("Heron", room_id=1)
        two.dip(1)
        two.silence(2)
        two.shop.change_mould(1, mould_body("Heron", TWO_COATS, room_id=2), "bench 1", "move")
        before = wetness(mould(two))
        two.send(readings(T0, 2, humidity=0.95, every_s=300.0))
        assert wetness(mould(two))[0] > before[0] + 0.01


class TestFacts:
    def test_a_dip_taken_back_and_a_dip_put_right(self, shop: SmallShop) -> None:
        shop.furnish()
        shop.hang()
        first = shop.dip()
        shop.let_pass(2)
        shop.shop.correct(first.number, first.body, T0 + h(1), "bench 1", "later")
        later = mould(shop)
        assert wetness(later) == pytest.approx(wetness(from_the_facts(shop)), abs=1e-12)
        shop.shop.withdraw(shop.records.facts(1)[-1].number, "bench 1", "undo")
        assert (mould(shop).stage, mould(shop).zones) == (Stage.TO_DIP, ())

    def test_a_mould_that_left_is_not_seen_and_comes_back_if_that_was_a_slip(self, shop: SmallShop) -> None:
        shop.furnish()
        shop.hang()
        shop.dip()
        shop.let_pass(2)
        gone = shop.shop.end(1, "failed", "", "bench 1", "end")
        assert shop.keeper.look(shop.clock.now()).moulds == ()
        shop.let_pass(2)
        shop.shop.withdraw(gone.number, "bench 1", "undo")
        assert wetness(mould(shop)) == pytest.approx(wetness(from_the_facts(shop)), abs=3e-3)

    def test_a_mould_hung_up_long_before_the_air_at_hand_makes_it_be_read(self, shop: SmallShop) -> None:
        """A fortnight ago, written down today."""
        shop.furnish(hours_of_air=400)
        mould_id = shop.hang(at=T0 - h(340)).id
        shop.dip(mould_id, at=T0 - h(339))
        found = mould(shop)
        assert wetness(found) == pytest.approx(wetness(from_the_facts(shop)), abs=1e-12)
        audit = shop.shop.audit(1).coats[0]
        assert audit.air_gap_s == 0.0

    def test_moulds_without_number_of_look(self, shop: SmallShop) -> None:
        shop.furnish()
        for name in ("Heron", "Curlew", "Avocet"):
            shop.hang(name)
        assert [m.name for m in shop.keeper.look(T0).moulds] == ["Heron", "Curlew", "Avocet"]


class TestEnded:
    """What is kept of a mould goes with it."""

    def test_nothing_is_kept_nor_saved(self, shop: SmallShop) -> None:
        shop.furnish()
        shop.hang()
        shop.dip()
        shop.let_pass(1)
        shop.keeper.save()
        assert shop.records.profile(1) is not None
        shop.shop.end(1, "scrapped", "", "bench 1", "end")
        assert shop.records.profile(1) is None
        assert shop.keeper._estimator.kept == set()

    def test_an_end_undone_after_its_air_changed_is_played_back(self, shop: SmallShop) -> None:
        shop.furnish()
        shop.hang()
        shop.dip()
        shop.let_pass(1)
        before = wetness(mould(shop))
        end = shop.shop.end(1, "scrapped", "", "bench 1", "end")
        shop.hang_sensor("beam", 1, 24, humidity=0.9)
        shop.shop.withdraw(end.number, "bench 1", "undo")
        after = wetness(mould(shop))
        assert after[0] > before[0] + 0.02
        assert after == pytest.approx(wetness(from_the_facts(shop)), abs=1e-12)


class TestRestart:
    def week(self, shop: SmallShop) -> None:
        shop.furnish()
        shop.hang("Heron", WADER, (FACE, HOLE))
        shop.hang("Curlew")
        shop.dip(1)
        shop.dip(2)
        shop.let_pass(9)
        shop.dip(2)
        shop.let_pass(3)

    def test_the_same_as_if_it_had_gone_on(self, shop: SmallShop, monkeypatch: pytest.MonkeyPatch) -> None:
        """To the last digit, and without playing anything back."""
        self.week(shop)
        shop.keeper.save()
        before = shop.keeper.look(shop.clock.now())
        counted = Counted(monkeypatch)
        shop.begin()
        after = shop.keeper.look(shop.clock.now())
        assert counted.lives == 0
        assert after.moulds == before.moulds

    def test_and_the_same_as_from_the_facts(self, shop: SmallShop) -> None:
        """Within 0.003 of saturation and five minutes."""
        self.week(shop)
        live = mould(shop, 2)
        played = from_the_facts(shop, 2)
        assert wetness(live) == pytest.approx(wetness(played), abs=3e-3)
        assert live.due_at is not None
        assert played.due_at is not None
        assert abs(live.due_at - played.due_at) < minutes(5)
        assert live.stage is played.stage

    def test_after_a_night_without_power_what_was_measured_before_counts(self, shop: SmallShop) -> None:
        self.week(shop)
        shop.keeper.save()
        shop.clock.advance(10 * 3600)
        shop.begin()
        found = mould(shop, 2)
        assert found.guessing_since is not None
        assert wetness(found) == pytest.approx(wetness(from_the_facts(shop, 2)), abs=3e-3)

    def test_a_fact_written_after_the_save_counts(self, shop: SmallShop) -> None:
        self.week(shop)
        shop.keeper.save()
        shop.until_due(1)
        shop.dip(1)
        shop.begin()
        assert mould(shop, 1).coats_given == 2
        assert wetness(mould(shop, 1)) == pytest.approx(wetness(from_the_facts(shop, 1)), abs=1e-12)

    def test_a_sensor_hung_elsewhere_after_the_save_counts(self, shop: SmallShop) -> None:
        self.week(shop)
        shop.keeper.save()
        shop.hang_sensor("beam", 1, 20, humidity=0.9)
        with_beam = wetness(mould(shop, 2))
        shop.begin()
        assert wetness(mould(shop, 2)) == pytest.approx(with_beam, abs=1e-12)

    def test_in_a_room_without_air_there_is_nothing_to_save(self, shop: SmallShop) -> None:
        shop.shop.add_room("shell room")
        shop.hang()
        shop.dip()
        shop.keeper.save()
        assert shop.records.profile(1) is None

    def test_saved_from_a_room_with_air_and_moved_to_one_without(self, shop: SmallShop) -> None:
        """The state kept is older than the facts: it is not passed off as theirs."""
        shop.furnish()
        shop.shop.add_room("loft")
        shop.hang()
        shop.dip()
        shop.let_pass(9)
        shop.shop.change_mould(1, mould_body("Heron", TWO_COATS, room_id=2), "bench 1", "move")
        shop.dip(1, reason="no sensor in the loft")
        shop.keeper.save()
        shop.shop.change_mould(1, mould_body("Heron", TWO_COATS, room_id=1), "bench 1", "back")
        shop.begin()
        assert len(mould(shop).zones[0].coat_saturations) == 2


class TestClock:
    def test_set_back_by_hours(self, shop: SmallShop) -> None:
        shop.furnish()
        shop.hang()
        shop.dip()
        shop.let_pass(6)
        late = wetness(mould(shop))
        shop.clock.jump(T0 + h(2))
        early = wetness(mould(shop))
        assert early[0] > late[0] + 0.05
        assert early == pytest.approx(wetness(from_the_facts(shop)), abs=1e-12)

    def test_set_back_to_before_everything(self, shop: SmallShop) -> None:
        shop.furnish()
        shop.hang()
        shop.dip()
        shop.let_pass(2)
        shop.clock.jump(datetime(2020, 1, 1, tzinfo=T0.tzinfo))
        seen = shop.keeper.look(shop.clock.now())
        assert [m.zones for m in seen.moulds] == [()]
        shop.clock.jump(T0 + h(2))
        assert mould(shop).zones[0].newest_saturation is not None

    def test_far_ahead_and_set_right_again_nothing_is_forgotten(self, shop: SmallShop) -> None:
        shop.furnish()
        shop.hang()
        shop.dip()
        shop.let_pass(2)
        before = wetness(mould(shop))
        shop.clock.jump(datetime(2090, 1, 1, tzinfo=T0.tzinfo))
        shop.keeper.look(shop.clock.now())
        shop.clock.jump(T0 + h(2))
        assert wetness(mould(shop)) == pytest.approx(before, abs=3e-3)

    def test_creeping_back_by_seconds_starts_nothing_over(
        self, shop: SmallShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        shop.furnish()
        shop.hang()
        shop.dip()
        shop.let_pass(2)
        counted = Counted(monkeypatch)
        shop.clock.jump(shop.clock.now() - minutes(0.5))
        mould(shop)
        assert counted.lives == 0


class TestMemory:
    def test_air_older_than_is_needed_is_let_go(
        self, shop: SmallShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Here a week is needed, so that the test need not fill four."""
        monkeypatch.setattr(keeper, "LOOK_BACK", h(24 * 7))
        shop.furnish(hours_of_air=24 * 20)
        mould_id = shop.hang(at=T0 - h(24 * 15)).id
        shop.shop.refresh()
        full = sum(len(heard) for heard in shop.keeper._books[1]._heard.values())
        shop.shop.end(mould_id, "scrapped", "", "bench 1", "end")
        shop.shop.refresh()
        left = sum(len(heard) for heard in shop.keeper._books[1]._heard.values())
        assert full > 2 * 15 * 280
        assert left < 2 * 8 * 288

    def test_facts_are_read_again_only_when_there_are_new_ones(
        self, shop: SmallShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        shop.furnish()
        shop.hang()
        mould(shop)
        monkeypatch.setattr(shop.records, "facts", lambda _: pytest.fail("read again"))
        mould(shop)


def test_the_look_back_covers_the_days_the_forecast_learns_from() -> None:
    assert h(24 * 5) <= keeper.LOOK_BACK


def test_speed_of_a_fan_is_heard(tmp_path: Path) -> None:
    with SmallShop(tmp_path) as shop:
        shop.furnish()
        shop.hang_sensor("fan", 1, 0)
        shop.clock.advance(150)
        shop.send([reading(T0, 2.0, Quantity.AIR_SPEED, "fan")])
        found = room(shop)
        assert (found.speed_m_s, found.speed_measured) == (2.0, True)


def test_nobody_waits_while_old_air_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A look goes on beside the audit of a mould that left long ago."""
    with SmallShop(tmp_path) as shop:
        shop.furnish()
        number = shop.hang(at=T0 - h(20)).id
        shop.shop.end(number, "scrapped", "", "bench 1", "end", T0 - h(10))
        shop.clock.advance(40 * 86_400)
        shop.keeper.open_books(shop.clock.now())
        read, looked = shop.records.five_minutes, []

        def slow(*asked: Any) -> Any:
            other = threading.Thread(target=lambda: looked.append(shop.keeper.look(shop.clock.now())))
            other.start()
            other.join(20.0)
            return read(*asked)

        monkeypatch.setattr(shop.records, "five_minutes", slow)
        p = progress(number, shop.records.facts(number))
        assert shop.keeper.past_air(p, None, T0 - h(10)) is not None
        assert looked


Ends = tuple[datetime | None, datetime | None, datetime | None, datetime | None]


def ends(m: MouldNow) -> Ends:
    return m.due_early_at, m.about_at, m.due_at, m.due_late_at


def known(m: MouldNow) -> list[datetime]:
    found = [at for at in ends(m) if at is not None]
    assert len(found) == 4
    return found


class TestHowSureTheHoursAre:
    @pytest.fixture
    def shop(self, tmp_path: Path) -> Iterator[SmallShop]:
        """Hung up, dipped, and an hour went by."""
        with SmallShop(tmp_path) as made:
            made.furnish()
            made.hang()
            made.dip()
            made.let_pass(1)
            yield made

    def work_out(self, shop: SmallShop) -> bool:
        return shop.keeper.work_out_spread(shop.clock.now())

    def test_a_look_does_not_wait_for_it_and_says_what_is_usual(self, shop: SmallShop) -> None:
        before = mould(shop)
        assert before.sureness_usual
        assert self.work_out(shop)
        found = mould(shop)
        assert not found.sureness_usual
        for each in (before, found):
            assert known(each) == sorted(known(each))
        assert known(before)[2] > known(found)[2]  # it would ring no earlier

    def test_it_is_known_at_once_after_a_restart(self, shop: SmallShop) -> None:
        self.work_out(shop)
        before = mould(shop)
        shop.keeper.save()
        shop.begin()
        assert ends(mould(shop)) == ends(before)
        assert not mould(shop).sureness_usual
        assert self.work_out(shop)  # the members are gone, and made anew
        for one, other in zip(known(before), known(mould(shop)), strict=True):
            assert abs(one - other) < minutes(2)

    def test_and_so_after_one_that_nothing_was_kept_before(self, shop: SmallShop) -> None:
        self.work_out(shop)
        shop.begin()
        assert mould(shop).sureness_usual

    def test_a_note_of_the_last_minutes_costs_it_nothing(self, shop: SmallShop) -> None:
        """What was kept of the wet state is older than the note, and is not used; the times still are."""
        self.work_out(shop)
        shop.keeper.save()
        before = ends(mould(shop))
        shop.shop.note(1, "the fan hums", "bench 1", "a key of its own")
        shop.begin()
        assert ends(mould(shop)) == before

    def test_a_mould_that_rang_stays_ready_over_a_restart(self, shop: SmallShop) -> None:
        self.work_out(shop)
        shop.until_due()
        due = mould(shop).due_at
        assert mould(shop).stage is Stage.READY
        shop.keeper.save()
        shop.begin()
        assert (mould(shop).stage, mould(shop).due_at) == (Stage.READY, due)

    def test_after_the_next_dip_it_is_usual_until_it_is_worked_out(self, shop: SmallShop) -> None:
        self.work_out(shop)
        shop.until_due()
        assert ends(mould(shop))[:2] == (None, None)
        shop.dip()
        assert mould(shop).sureness_usual
        shop.let_pass(0.5)
        assert self.work_out(shop)
        assert not mould(shop).sureness_usual

    def test_with_other_air_it_starts_over(self, shop: SmallShop) -> None:
        self.work_out(shop)
        shop.keeper.start_over(shop.clock.now())
        assert mould(shop).sureness_usual
        assert self.work_out(shop)

    def test_with_other_air_what_rang_stays_ready(self, shop: SmallShop) -> None:
        """Else each sensor that is hung elsewhere would put off every bell for seconds."""
        self.work_out(shop)
        shop.until_due()
        due = mould(shop).due_at
        shop.keeper.start_over(shop.clock.now())
        assert (mould(shop).stage, mould(shop).due_at) == (Stage.READY, due)

    def test_nothing_to_be_worked_out(self, shop: SmallShop, monkeypatch: pytest.MonkeyPatch) -> None:
        self.work_out(shop)
        monkeypatch.setattr(shop.keeper, "hung", lambda now: pytest.fail("no air is gathered for it"))
        assert not self.work_out(shop)

    def test_one_that_left_is_forgotten(self, shop: SmallShop) -> None:
        self.work_out(shop)
        assert shop.keeper.learner.kept == {1}
        shop.shop.end(1, "scrapped", "", "bench 1", "a key of its own")
        mould_ids = [m.id for m in shop.keeper.look(shop.clock.now()).moulds]
        assert mould_ids == []
        assert shop.keeper.learner.kept == set()

    def test_without_air_there_is_nothing_to_be_said(self, tmp_path: Path) -> None:
        (tmp_path / "dark").mkdir()
        with SmallShop(tmp_path / "dark") as dark:
            dark.shop.add_room("shell room")
            dark.hang()
            dark.dip()
            dark.clock.advance(600)
            assert not self.work_out(dark)
            assert ends(mould(dark)) == (None, None, None, None)

    def test_as_sure_as_the_shop_wants_it_to_be(self, shop: SmallShop) -> None:
        """Asked anew at each look: who wants to be surer waits longer."""
        self.work_out(shop)
        wanted = {"prime": 0.8}
        shop.keeper.learner._sureness = lambda: Sureness(**wanted)
        found = []
        for sure in (0.5, 0.8, 0.9):
            wanted["prime"] = sure
            found.append(mould(shop).due_at)
        about, late = mould(shop).about_at, mould(shop).due_late_at
        assert found == sorted(found, key=lambda at: at or T0)
        assert (found[0], found[2]) == (about, late)
