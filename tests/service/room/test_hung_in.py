"""The air of a mould that was hung elsewhere, or in a room that was not measured: to the five minutes."""

from __future__ import annotations

import numpy as np
import pytest

from service.room.air_book import RoomAir
from service.room.heard import BIN_S
from service.room.hung_in import COUNTS_FOR, HungIn, by_air, hung_in
from tests.service.room.cases import T0, WARM_K, Ledger, h, minutes, mould, mould_body, room_air, room_state

DRY = room_air(hours=10)
DAMP = room_air(hours=10, temperature_k=285.0, humidity=0.9)
HOUR = 3600 // BIN_S


def hung(*stays: tuple[float, int], dry: RoomAir | None = DRY, damp: RoomAir | None = DAMP) -> HungIn:
    return hung_in([(T0 + h(hour), room_id) for hour, room_id in stays], {1: dry, 2: damp, 3: None})


def along(*stays: tuple[float, int], dry: RoomAir | None = DRY, damp: RoomAir | None = DAMP) -> RoomAir:
    air = hung(*stays, dry=dry, damp=damp).air
    assert air is not None
    return air


def humidities(air: RoomAir) -> list[float]:
    """Hour by hour, just before its end."""
    found: list[float] = air.series.humidity[HOUR - 1 :: HOUR].tolist()
    return found


def gap_h(air: RoomAir, from_h: float, to_h: float) -> float:
    return air.gap_s((T0 + h(from_h)).timestamp(), (T0 + h(to_h)).timestamp() - 1) / 3600


class TestAlong:
    def test_one_room(self) -> None:
        assert along((0, 1)) is DRY

    def test_from_its_instant_on_the_air_is_the_next_rooms(self) -> None:
        air = along((0, 1), (4, 2))
        assert humidities(air) == [0.5] * 4 + [0.9] * 6
        assert air.series.humidity[4 * HOUR - 1 : 4 * HOUR + 1].tolist() == [0.5, 0.9]

    def test_in_a_room_without_air_the_last_good_air_goes_on_unmeasured(self) -> None:
        swinging = room_air(hours=10, swing_k=6.0)
        air = along((0, 1), (4, 3), dry=swinging)
        assert air.measured.tolist() == [True] * 4 * HOUR + [False] * 6 * HOUR
        assert set(air.series.temperature_k[4 * HOUR :].tolist()) == {
            float(swinging.series.temperature_k[4 * HOUR - 1])
        }
        assert air.last_good == T0 + h(4) - minutes(2.5)

    def test_air_gone_silent_before_the_move_was_good_before_that(self) -> None:
        air = along((0, 1), (4, 3), dry=room_air(hours=10, gaps=[(2, 10)]))
        assert air.last_good == T0 + h(2) - minutes(2.5)

    def test_back_again_it_is_the_first_rooms(self) -> None:
        air = along((0, 2), (4, 3), (7, 1))
        assert humidities(air) == [0.9] * 7 + [0.5] * 3
        assert gap_h(air, 0, 10) == 3

    def test_until_the_next_room_is_first_measured_the_last_good_air_goes_on(self) -> None:
        air = along((0, 1), (4, 2), damp=room_air(hours=10, humidity=0.9, gaps=[(0, 6)]))
        assert humidities(air) == [0.5] * 6 + [0.9] * 4
        assert gap_h(air, 4, 6) == 2

    def test_a_room_measured_before_and_silent_since_keeps_its_own_last_air(self) -> None:
        air = along((0, 1), (4, 2), damp=room_air(hours=10, humidity=0.9, gaps=[(3, 10)]))
        assert humidities(air) == [0.5] * 4 + [0.9] * 6

    def test_in_a_first_room_without_air_the_first_of_the_next_stands_in_unmeasured(self) -> None:
        swinging = room_air(hours=10, swing_k=6.0)
        air = along((0, 3), (4, 1), dry=swinging)
        assert set(air.series.temperature_k[: 4 * HOUR].tolist()) == {
            float(swinging.series.temperature_k[4 * HOUR])
        }
        assert air.measured.tolist() == [False] * 4 * HOUR + [True] * 6 * HOUR

    def test_in_one_room_the_first_air_that_is_measured_stands_in_until_then(self) -> None:
        air = along((0, 1), dry=room_air(hours=10, gaps=[(0, 6)], swing_k=6.0))
        assert set(air.series.temperature_k[: 6 * HOUR].tolist()) == {
            float(air.series.temperature_k[6 * HOUR])
        }
        assert gap_h(air, 0, 10) == 6

    @pytest.mark.parametrize("next_room", [2, 3])
    def test_a_first_room_measured_only_after_it_left_brings_nothing_along(self, next_room: int) -> None:
        found = hung((0, 1), (4, next_room), dry=room_air(hours=10, gaps=[(0, 6)]))
        assert (found.air is None) is (next_room == 3)
        assert found.air is None or humidities(found.air) == [0.9] * 10

    def test_nowhere_any_air(self) -> None:
        assert hung((0, 3)) == HungIn(None, rooms_now=False, rooms_always=False)


class TestAirOfBefore:
    """A room whose sensor fell silent, or was taken down, before the mould came."""

    LEFT = room_air(hours=60, humidity=0.9, gaps=[(10, 60)])
    MINE = room_air(hours=60)

    @pytest.mark.parametrize(("came_h", "counts"), [(33.9, True), (34.1, False)])
    def test_counts_for_a_day(self, came_h: float, counts: bool) -> None:
        assert h(24) == COUNTS_FOR
        found = hung((30, 1), (came_h, 2), dry=self.MINE, damp=self.LEFT)
        assert found.rooms_now is counts
        assert found.air is not None
        assert found.air.series.humidity[-1] == (0.9 if counts else 0.5)

    def test_to_the_instant(self) -> None:
        """The last five minutes that were measured have their middle at 9 h 57.5 min."""
        edge = T0 + h(10) - minutes(2.5) + COUNTS_FOR
        assert hung_in([(edge, 2)], {2: self.LEFT}).rooms_always
        assert hung_in([(edge + minutes(0.001), 2)], {2: self.LEFT}).air is None

    def test_once_it_counts_it_goes_on_counting(self) -> None:
        found = hung((12, 2), damp=self.LEFT)
        assert found == HungIn(self.LEFT, rooms_now=True, rooms_always=True)

    def test_older_air_is_none_until_the_room_is_measured_again(self) -> None:
        back = room_air(hours=60, humidity=0.9, gaps=[(10, 50)])
        back.series.humidity[: 10 * HOUR] = 0.2
        found = hung((36, 2), damp=back)
        assert (found.rooms_now, found.rooms_always) == (True, False)
        assert found.air is not None
        assert set(found.air.series.humidity.tolist()) == {0.9}
        assert gap_h(found.air, 36, 60) == 14


class TestByAir:
    def test_all_together_where_the_room_is_measured(self) -> None:
        here = [mould(1), mould(1, mould_id=2)]
        state = room_state(DRY)
        own = {p.mould_id: hung_in(p.rooms, {1: DRY}) for p in here}
        assert by_air(state, here, own, T0 + h(5)) == [(state, here)]

    def test_each_in_what_it_brought_where_it_is_not(self) -> None:
        moved = Ledger(2)
        moved.hang(mould_body(room_id=2))
        moved.hang(mould_body(room_id=1), T0 + h(4))
        state = room_state()
        here = [mould(1), moved.progress]
        own = {p.mould_id: hung_in(p.rooms, {1: None, 2: DAMP}) for p in here}
        (first, never), (second, brought) = by_air(state, here, own, T0 + h(5))
        assert (first, [p.mould_id for p in never]) == (state, [1])
        assert [p.mould_id for p in brought] == [2]
        assert second.guessing_since == T0 + h(4) - minutes(2.5)
        assert second.to_come is not None
        assert second.to_come.series.temperature_k == pytest.approx(np.full(337, 285.0), abs=1.0)
        assert state.air is None
        assert WARM_K not in second.to_come.series.temperature_k

    def test_in_a_room_whose_air_is_too_old_for_it_a_mould_has_none(self) -> None:
        old = room_air(start=T0 - h(40), hours=50, gaps=[(4, 50)])
        state, late = room_state(old), mould(1)
        ((found, here),) = by_air(state, [late], {1: hung_in(late.rooms, {1: old})}, T0 + h(5))
        assert (found.air, found.to_come, found.guessing_since) == (None, None, None)
        assert here == [late]
