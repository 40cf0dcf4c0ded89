"""What each room's readings teach: from the records alone, when it is renewed, and when they count no more."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from service.drying.weather import AirSeries
from service.learning.room import RoomNumber
from service.records.facts import Fact, LearnAnewBody, WithdrawnBody
from service.room import room_teacher
from service.room.room_fittings import RoomFittings, Runs
from service.room.room_teacher import HOLDS_FOR, RoomTeacher, anew_at, told_of
from tests.service.room.cases import PRESSURE_PA, ROOM, SITE, T0, WARM_K, h
from tests.service.room.small_shop import SmallShop

SIZED = {1: RoomFittings(volume_m3=145.8, people=2)}


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SmallShop]:
    """Two days of air, a mould that hangs and one that left."""
    with SmallShop(tmp_path_factory.mktemp("shop"), T0) as made:
        made.shop.save_site(SITE)
        made.furnish(48.0)
        made.hang(at=T0 - h(30))
        made.dip(1, T0 - h(28))
        made.hang("Curlew", at=T0 - h(30))
        made.dip(2, T0 - h(29))
        made.shop.end(2, "scrapped", "", "bench 1", "the-end-0001", T0 - h(10))
        yield made


def teacher(shop: SmallShop, fittings: dict[int, RoomFittings] | None = None) -> RoomTeacher:
    return RoomTeacher(shop.records, shop.keeper, lambda: SIZED if fittings is None else fittings)


class TestLearning:
    def test_from_the_records_alone(self, shop: SmallShop) -> None:
        one, other = teacher(shop), teacher(shop)
        for each in (one, other):
            each.work_out(T0)
        (found,), (again,) = one.learned(T0), other.learned(T0)
        assert found == again
        assert 90 <= found.half_hours <= 96
        assert found.since is not None
        assert abs(found.since - (T0 - h(48))) <= timedelta(minutes=10)
        assert (found.sized, found.outdoors, found.load_kg_s) == (True, False, None)

    def test_moulds_that_hang_and_that_left_are_the_push(
        self, shop: SmallShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        seen = []
        real = room_teacher.given_off_kg_s

        def noting(moulds, *rest):  # type: ignore[no-untyped-def]
            seen.append(sorted(p.body.name for p, _ in moulds))
            return real(moulds, *rest)

        monkeypatch.setattr(room_teacher, "given_off_kg_s", noting)
        teacher(shop).belief(ROOM, T0)
        assert seen == [["Curlew", "Heron"]]

    def test_outdoors_where_somebody_knows_them(self, shop: SmallShop) -> None:
        asked: list[datetime] = []

        def outdoors(now: datetime) -> AirSeries:
            asked.append(now)
            return AirSeries.constant(280.0, 0.8, 2.0, PRESSURE_PA)

        knowing = RoomTeacher(shop.records, shop.keeper, lambda: SIZED, outdoors)
        assert knowing.belief(ROOM, T0).outdoors
        assert asked == [T0]
        (view,) = knowing.learned(T0)
        assert view.load_kg_s is not None
        likely, low, high = view.load_kg_s
        assert 0.0 <= low <= likely <= high

    def test_outdoors_known_only_of_late_are_not_enough(self, shop: SmallShop) -> None:
        def outdoors(now: datetime) -> AirSeries:
            t = np.array([now.timestamp() - 7200.0, now.timestamp()])
            return AirSeries(t, *(np.full(2, v) for v in (280.0, 0.8, 2.0, PRESSURE_PA)))

        assert not RoomTeacher(shop.records, shop.keeper, lambda: SIZED, outdoors).belief(ROOM, T0).outdoors

    def test_before_it_was_worked_out_all_is_as_thought_before(self, shop: SmallShop) -> None:
        (view,) = teacher(shop).learned(T0)
        assert (view.half_hours, view.since) == (0, None)
        for number in view.numbers:
            assert (number.low, number.high) == (number.at_first_low, number.at_first_high)
        assert [number.kind for number in view.numbers] == list(RoomNumber)

    def test_a_room_without_air_teaches_nothing(self, tmp_path: Path) -> None:
        with SmallShop(tmp_path) as bare:
            bare.shop.add_room("shell room")
            it = teacher(bare, {})
            it.work_out(T0)
            (view,) = it.learned(T0)
            assert (view.half_hours, view.sized) == (0, False)


class TestWhenItIsRenewed:
    @pytest.fixture
    def counted(self, monkeypatch: pytest.MonkeyPatch) -> list[datetime]:
        """Each time that a room is learned."""
        times: list[datetime] = []
        real = room_teacher.learn_room

        def counting(history, told):  # type: ignore[no-untyped-def]
            times.append(datetime.now(UTC))
            return real(history, told)

        monkeypatch.setattr(room_teacher, "learn_room", counting)
        return times

    def test_it_holds_for_a_while_to_the_very_end(self, shop: SmallShop, counted: list[datetime]) -> None:
        it = teacher(shop)
        it.work_out(T0)
        it.work_out(T0 + HOLDS_FOR - timedelta(seconds=1))
        assert len(counted) == 1
        it.work_out(T0 + HOLDS_FOR)
        assert len(counted) == 2

    def test_a_question_takes_what_is_known_however_old(
        self, shop: SmallShop, counted: list[datetime]
    ) -> None:
        it = teacher(shop)
        it.work_out(T0)
        it.belief(ROOM, T0 + 10 * HOLDS_FOR)
        assert len(counted) == 1

    def test_but_not_what_was_learned_of_another_size(self, shop: SmallShop, counted: list[datetime]) -> None:
        fittings = dict(SIZED)
        it = teacher(shop, fittings)
        it.belief(ROOM, T0)
        fittings[1] = RoomFittings(volume_m3=60.0)
        assert it.belief(ROOM, T0).air_kg < 80.0
        assert len(counted) == 2

    def test_a_clock_put_back_makes_it_anew(self, shop: SmallShop, counted: list[datetime]) -> None:
        it = teacher(shop)
        it.work_out(T0)
        it.work_out(T0 - h(1))
        assert len(counted) == 2


def said(number: int, at: datetime, effect: str, of: str = "") -> Fact:
    return Fact(number, None, at, at, "bench 1", LearnAnewBody(effect=effect, of=of), None, None, str(number))


class TestLearnedAnew:
    def test_only_what_came_since_counts(self, shop: SmallShop) -> None:
        it = teacher(shop)
        before = it.belief(ROOM, T0).vapour.pieces
        fact = shop.shop.learn_anew("room", "1", "a new door", "bench 1", "anew-key-001")
        assert it.belief(ROOM, T0).vapour.pieces == 0
        assert it.belief(ROOM, T0 + h(30)).vapour.pieces == 0  # no reading since
        assert it.learned(T0)[0].learned_anew_at == fact.at
        shop.shop.withdraw(fact.number, "bench 1", "anew-key-002")
        assert it.belief(ROOM, T0).vapour.pieces == before

    def test_it_may_be_said_of_one_room_or_of_everything(self) -> None:
        facts = [said(1, T0, "room", "2"), said(2, T0 + h(1), "draught", "1/3"), said(3, T0 + h(2), "")]
        assert anew_at(facts[:2], 1) is None
        assert anew_at(facts[:2], 2) == T0
        assert anew_at(facts, 1) == T0 + h(2)

    def test_taken_back_it_was_never_said(self) -> None:
        one = said(1, T0, "room", "1")
        back = Fact(2, None, T0, T0, "bench 1", WithdrawnBody(), 1, None, "2")
        assert anew_at([one, back], 1) is None


class TestWhatAPersonTold:
    def test_volume_air_changes_and_what_is_held(self) -> None:
        told = told_of(
            RoomFittings(
                volume_m3=145.8, air_changes_an_hour=0.9, heater_w=2e3, heater=Runs.HOLDS, heater_set_k=WARM_K
            ),
            SITE,
        )
        assert told.air_kg == pytest.approx(145.8 * 1.19, rel=0.01)
        assert told.air_changes_1_s == pytest.approx(0.9 / 3600.0)
        assert told.held_k == WARM_K

    def test_a_heater_that_is_on_all_the_time_holds_nothing(self) -> None:
        told = told_of(RoomFittings(heater_w=2e3, heater=Runs.ON, heater_set_k=WARM_K), None)
        assert (told.air_kg, told.held_k) == (None, None)


def test_people_count_in_working_hours(shop: SmallShop) -> None:
    """Saltmarsh works from 7 to 19; edges from six to eight in the morning, UTC."""
    edges = np.arange((T0 - h(2)).timestamp(), T0.timestamp() + 1.0, 1800.0)
    assert room_teacher._at_work(edges, SITE).tolist() == [0.0, 0.0, 1.0, 1.0]
    assert room_teacher._at_work(edges, None).tolist() == [0.0] * 4
