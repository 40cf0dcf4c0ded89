"""The air of a mould that was hung elsewhere: to the five minutes."""

from __future__ import annotations

import numpy as np
import pytest

from service.room.air_book import BIN_S, RoomAir
from service.room.hung_in import air_along, by_air
from tests.service.room.cases import T0, WARM_K, Ledger, h, minutes, mould, mould_body, room_air, room_state

DRY = room_air(hours=10)
DAMP = room_air(hours=10, temperature_k=285.0, humidity=0.9)
HOUR = 3600 // BIN_S


def along(*stays: tuple[float, int], dry: RoomAir | None = DRY, damp: RoomAir | None = DAMP) -> RoomAir:
    air = air_along([(T0 + h(hour), room_id) for hour, room_id in stays], {1: dry, 2: damp, 3: None})
    assert air is not None
    return air


def humidities(air: RoomAir) -> list[float]:
    """Hour by hour, just before its end."""
    return air.series.humidity[HOUR - 1 :: HOUR].tolist()


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
        assert air.gap_s((T0).timestamp(), (T0 + h(10)).timestamp()) == 3 * 3600

    def test_until_the_next_room_is_first_measured_the_last_good_air_goes_on(self) -> None:
        late = room_air(hours=10, humidity=0.9, gaps=[(0, 6)])
        air = along((0, 1), (4, 2), damp=late)
        assert humidities(air) == [0.5] * 6 + [0.9] * 4
        assert air.gap_s((T0 + h(4)).timestamp(), (T0 + h(6)).timestamp() - 1) == 2 * 3600

    def test_a_room_measured_before_and_silent_since_keeps_its_own_last_air(self) -> None:
        air = along((0, 1), (4, 2), damp=room_air(hours=10, humidity=0.9, gaps=[(3, 10)]))
        assert humidities(air) == [0.5] * 4 + [0.9] * 6

    def test_a_first_room_without_air_has_that_of_the_next(self) -> None:
        assert along((0, 3), (4, 1)) is DRY

    @pytest.mark.parametrize("next_room", [2, 3])
    def test_a_first_room_measured_only_later_brings_nothing_along(self, next_room: int) -> None:
        late = room_air(hours=10, gaps=[(0, 6)])
        air = air_along([(T0, 1), (T0 + h(4), next_room)], {1: late, 2: DAMP, 3: None})
        assert (air is None) is (next_room == 3)
        assert air is None or humidities(air)[4:] == [0.9] * 6

    def test_nowhere_any_air(self) -> None:
        assert air_along([(T0, 3)], {3: None}) is None


class TestByAir:
    def test_all_together_where_the_room_is_measured(self) -> None:
        here = [mould(1), mould(1, mould_id=2)]
        state = room_state(DRY)
        assert by_air(state, here, {1: DRY}, T0 + h(5)) == [(state, here)]

    def test_each_in_what_it_brought_where_it_is_not(self) -> None:
        moved = Ledger(2)
        moved.hang(mould_body(room_id=2))
        moved.hang(mould_body(room_id=1), T0 + h(4))
        state = room_state()
        (first, never), (second, brought) = by_air(
            state, [mould(1), moved.progress], {1: None, 2: DAMP}, T0 + h(5)
        )
        assert (first, [p.mould_id for p in never]) == (state, [1])
        assert [p.mould_id for p in brought] == [2]
        assert second.guessing_since == T0 + h(4) - minutes(2.5)
        assert second.to_come is not None
        assert np.unique(second.to_come.series.temperature_k).tolist() == [285.0]
        assert state.air is None
        assert WARM_K not in second.to_come.series.temperature_k
