"""The air of a room out of what its sensors sent."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.reading import Quantity, Reading
from service.room.air_book import AirBook, RoomAir, ten_minute_means
from service.room.heard import BIN_S, STALE_AFTER_S
from tests.service.room.cases import PRESSURE_PA, T0, h, minutes, reading, readings, room_air

T, RH = Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY
USUAL = (0.2, PRESSURE_PA)


def book(*sent: Reading) -> AirBook:
    made = AirBook()
    made.add(sent)
    return made


def pair(at: datetime, temperature_k: float, humidity: float = 0.5, sensor: str = "wall") -> list[Reading]:
    return [reading(at, temperature_k, T, sensor), reading(at, humidity, RH, sensor)]


def air_of(made: AirBook, since: datetime, until: datetime) -> RoomAir:
    air = made.air(since, until, *USUAL)
    assert air is not None
    return air


def at(air: RoomAir, when: datetime) -> int:
    """The place of an instant's five minutes on the grid."""
    return int(np.searchsorted(air.series.time_s, when.timestamp() // BIN_S * BIN_S))


class TestNothing:
    def test_no_readings_no_air(self) -> None:
        assert AirBook().air(T0, T0 + h(1), *USUAL) is None

    def test_temperature_alone_is_no_air(self) -> None:
        assert book(reading(T0, 294.0)).air(T0, T0 + h(1), *USUAL) is None

    def test_temperature_and_humidity_at_different_hours_are_no_air(self) -> None:
        made = book(reading(T0, 294.0), reading(T0 + h(2), 0.5, RH))
        assert made.air(T0, T0 + h(3), *USUAL) is None

    def test_a_weight_and_a_surface_temperature_are_no_air(self) -> None:
        made = book(
            reading(T0, 290.0, Quantity.SURFACE_TEMPERATURE),
            reading(T0, 8.2, Quantity.WEIGHT),
            *pair(T0, 294.0),
        )
        assert air_of(made, T0, T0).series.temperature_k.tolist() == [294.0]

    def test_readings_of_another_time(self) -> None:
        made = book(*pair(T0 - h(5), 294.0), *pair(T0 + h(5), 294.0))
        assert made.air(T0, T0 + h(1), *USUAL) is None


class TestGrid:
    def test_five_minutes_each_from_the_first_to_the_last(self) -> None:
        air = air_of(book(*pair(T0, 294.0)), T0, T0 + minutes(14))
        assert air.series.time_s.tolist() == [T0.timestamp() + 150 + 300 * i for i in range(3)]

    def test_an_end_on_the_edge_opens_one_more(self) -> None:
        air = air_of(book(*pair(T0, 294.0)), T0, T0 + minutes(15))
        assert air.series.time_s.size == 4

    def test_a_start_within_five_minutes_counts_them_whole(self) -> None:
        air = air_of(book(*pair(T0, 294.0)), T0 + minutes(4), T0 + minutes(4))
        assert air.series.time_s.tolist() == [T0.timestamp() + 150]

    def test_an_end_before_the_start_is_the_start(self) -> None:
        air = air_of(book(*pair(T0, 294.0)), T0, T0 - h(3))
        assert air.series.time_s.size == 1


class TestMeans:
    def test_readings_within_five_minutes_are_averaged(self) -> None:
        made = book(*pair(T0, 294.0), *pair(T0 + minutes(1), 296.0), *pair(T0 + minutes(4.99), 298.0))
        assert air_of(made, T0, T0).series.temperature_k.tolist() == [296.0]

    def test_the_edge_belongs_to_the_later_five_minutes(self) -> None:
        made = book(*pair(T0, 294.0), *pair(T0 + minutes(5), 300.0))
        assert air_of(made, T0, T0 + minutes(5)).series.temperature_k.tolist() == [294.0, 300.0]

    def test_a_microsecond_before_the_edge_to_the_earlier(self) -> None:
        made = book(*pair(T0, 294.0), *pair(T0 + minutes(5) - timedelta(microseconds=1), 300.0))
        assert air_of(made, T0, T0).series.temperature_k.tolist() == [297.0]

    def test_order_does_not_matter(self) -> None:
        sent = readings(T0, 3, swing_k=6.0)
        shuffled = sent.copy()
        random.Random(3).shuffle(shuffled)
        one, other = (air_of(book(*some), T0, T0 + h(4)) for some in (sent, shuffled))
        assert one.series.temperature_k == pytest.approx(other.series.temperature_k, abs=1e-9)
        assert one.measured.tolist() == other.measured.tolist()

    def test_added_one_by_one_as_all_at_once(self) -> None:
        sent = readings(T0, 2, swing_k=6.0)
        slowly = AirBook()
        for one in sent:
            slowly.add([one])
        a, b = air_of(slowly, T0, T0 + h(2)), air_of(book(*sent), T0, T0 + h(2))
        assert a.series.temperature_k.tolist() == b.series.temperature_k.tolist()


class TestStale:
    def test_the_last_value_counts_for_half_an_hour_and_is_then_only_held(self) -> None:
        """Six times five minutes, its own among them; it is held on, but no longer measured."""
        air = air_of(book(*pair(T0, 294.0)), T0, T0 + h(1))
        count = STALE_AFTER_S // BIN_S
        assert air.measured.tolist() == [True] * count + [False] * (13 - count)
        assert air.series.temperature_k.tolist() == [294.0] * 13

    def test_a_reading_just_before_the_span_reaches_into_it(self) -> None:
        air = air_of(book(*pair(T0 - minutes(25), 294.0)), T0, T0 + minutes(9))
        assert air.measured.tolist() == [True, False]

    def test_half_an_hour_before_it_does_not(self) -> None:
        assert book(*pair(T0 - minutes(30), 294.0)).air(T0, T0 + minutes(9), *USUAL) is None

    def test_before_the_first_reading_the_first_is_carried_back_and_not_called_measured(self) -> None:
        air = air_of(book(*pair(T0 + h(1), 290.0, 0.6)), T0, T0 + h(1))
        assert air.series.temperature_k.tolist() == [290.0] * 13
        assert air.measured.tolist() == [False] * 12 + [True]

    def test_a_gap_holds_the_last_good_air_until_the_next(self) -> None:
        made = book(*pair(T0, 290.0), *pair(T0 + h(2), 300.0))
        air = air_of(made, T0, T0 + h(2))
        assert set(air.series.temperature_k[:24].tolist()) == {290.0}
        assert air.series.temperature_k[24] == 300.0
        assert air.measured.sum() == 7

    def test_measured_asks_for_both(self) -> None:
        made = book(*pair(T0, 294.0), reading(T0 + minutes(30), 294.0))
        assert air_of(made, T0, T0 + minutes(35)).measured.tolist() == [True] * 6 + [False] * 2


class TestSeveralSensors:
    def test_two_make_a_mean(self) -> None:
        made = book(*pair(T0, 290.0), *pair(T0, 294.0, sensor="beam"))
        assert air_of(made, T0, T0).series.temperature_k.tolist() == [292.0]

    def test_one_of_three_that_is_off_does_not_pull(self) -> None:
        made = book(*pair(T0, 294.0), *pair(T0, 294.2, sensor="beam"), *pair(T0, 330.0, sensor="stove"))
        assert air_of(made, T0, T0).series.temperature_k.tolist() == [294.2]

    def test_a_stale_one_drops_out(self) -> None:
        made = book(*pair(T0, 290.0), *readings(T0, 2, 294.0, sensor="beam"))
        air = air_of(made, T0, T0 + h(1))
        assert air.series.temperature_k[at(air, T0 + minutes(29))] == 292.0
        assert air.series.temperature_k[at(air, T0 + minutes(30))] == 294.0
        assert air.measured.all()

    def test_one_brings_the_warmth_and_the_other_the_damp(self) -> None:
        made = book(reading(T0, 291.0, T, "wall"), reading(T0, 0.66, RH, "beam"))
        air = air_of(made, T0, T0)
        assert (air.series.temperature_k[0], air.series.humidity[0]) == (291.0, 0.66)
        assert air.measured.all()

    def test_a_chatty_sensor_weighs_no_more(self) -> None:
        often = [one for i in range(50) for one in pair(T0 + timedelta(seconds=i), 290.0)]
        made = book(*often, *pair(T0, 294.0, sensor="beam"))
        assert air_of(made, T0, T0).series.temperature_k.tolist() == [292.0]


class TestSensorsThatDiffer:
    def sent(self, hours: float = 2.0, door: float = 0.05) -> AirBook:
        return book(*readings(T0, hours, humidity=0.55), *readings(T0, hours, humidity=door, sensor="door"))

    def test_the_damper_counts_and_it_is_told_since_when(self) -> None:
        made = self.sent()
        now = T0 + minutes(115)
        assert air_of(made, T0, now).series.humidity == pytest.approx(0.55)
        (found,) = made.differing(T0 - h(1), now)
        assert found.quantity is RH
        assert dict(found.told) == pytest.approx({"door": 0.05, "wall": 0.55})
        assert found.since == T0

    def test_looked_back_no_further_than_asked(self) -> None:
        (found,) = self.sent().differing(T0 + h(1), T0 + minutes(115))
        assert found.since == T0 + h(1)

    def test_within_what_both_may_be_off_they_make_a_mean(self) -> None:
        made = self.sent(door=0.46)
        assert air_of(made, T0, T0 + h(1)).series.humidity == pytest.approx(0.505)
        assert made.differing(T0, T0 + h(1)) == ()

    def test_since_the_five_minutes_in_which_their_half_hours_parted(self) -> None:
        made = book(*readings(T0, 4, humidity=0.5), *readings(T0, 2, humidity=0.5, sensor="door"))
        made.add(readings(T0 + h(2), 2, humidity=0.9, sensor="door"))
        (found,) = made.differing(T0, T0 + minutes(235))
        assert found.since == T0 + h(2) + minutes(5)

    def test_where_the_span_begins_does_not_matter(self) -> None:
        made = book(*readings(T0, 4, humidity=0.5), *readings(T0, 2, humidity=0.5, sensor="door"))
        made.add(readings(T0 + h(2), 2, humidity=0.9, sensor="door"))
        whole, late = air_of(made, T0, T0 + h(3)), air_of(made, T0 + minutes(120), T0 + h(3))
        assert whole.series.humidity[24:].tolist() == pytest.approx(late.series.humidity.tolist())

    def test_it_is_over_when_one_falls_silent_or_they_agree(self) -> None:
        made = self.sent(2.0)
        assert made.differing(T0, T0 + h(2) + minutes(4.99)) != ()
        assert made.differing(T0, T0 + h(2) + minutes(5)) == ()
        assert book(*readings(T0, 1)).differing(T0, T0 + h(1)) == ()
        assert AirBook().differing(T0, T0) == ()


class TestSpeedAndPressure:
    def test_not_measured_the_usual_stands_in(self) -> None:
        air = book(*pair(T0, 294.0)).air(T0, T0, 0.35, 98000.0)
        assert air is not None
        assert (air.series.speed_m_s[0], air.series.pressure_pa[0]) == (0.35, 98000.0)
        assert not air.speed_measured[0]
        assert not air.pressure_measured[0]

    def test_measured(self) -> None:
        made = book(
            *pair(T0, 294.0), reading(T0, 1.4, Quantity.AIR_SPEED), reading(T0, 99000.0, Quantity.PRESSURE)
        )
        air = air_of(made, T0, T0)
        assert (air.series.speed_m_s[0], air.series.pressure_pa[0]) == (1.4, 99000.0)
        assert air.speed_measured[0]
        assert air.pressure_measured[0]

    def test_a_silent_wind_sensor_gives_way_to_the_usual_again(self) -> None:
        """A fan that was on an hour ago may be off by now: still air is the careful guess."""
        made = book(*readings(T0, 2), reading(T0, 1.4, Quantity.AIR_SPEED))
        air = air_of(made, T0, T0 + h(1))
        assert air.series.speed_m_s[at(air, T0 + minutes(29))] == 1.4
        assert air.series.speed_m_s[at(air, T0 + minutes(30))] == 0.2

    def test_speed_and_pressure_alone_are_no_air(self) -> None:
        made = book(reading(T0, 1.4, Quantity.AIR_SPEED), reading(T0, 99000.0, Quantity.PRESSURE))
        assert made.air(T0, T0, *USUAL) is None


class TestForget:
    def test_what_is_older_is_gone_and_the_rest_stays(self) -> None:
        made = book(*readings(T0, 4, 294.0))
        made.forget_before(T0 + h(2))
        assert made.air(T0, T0 + minutes(90), *USUAL) is None
        assert air_of(made, T0 + h(2), T0 + h(3)).measured.all()

    def test_the_five_minutes_that_hold_the_border_stay(self) -> None:
        made = book(*pair(T0, 294.0))
        made.forget_before(T0 + minutes(4))
        assert air_of(made, T0, T0).measured.all()
        made.forget_before(T0 + minutes(5))
        assert made.air(T0, T0, *USUAL) is None

    def test_a_book_that_forgot_all_may_be_written_in_again(self) -> None:
        made = book(*pair(T0, 294.0))
        made.forget_before(T0 + h(9))
        made.add(pair(T0 + h(10), 291.0))
        assert air_of(made, T0 + h(10), T0 + h(10)).series.temperature_k.tolist() == [291.0]


class TestLastGoodAndGaps:
    def test_the_last_good_is_the_middle_of_the_last_measured_five_minutes(self) -> None:
        air = air_of(book(*pair(T0, 294.0)), T0, T0 + h(2))
        assert air.last_good == T0 + minutes(27.5)

    def test_gaps_are_counted_by_their_middles(self) -> None:
        air = room_air(hours=4, gaps=[(1, 2)])
        start = T0.timestamp()
        assert air.gap_s(start, start + 4 * 3600) == 3600.0
        assert air.gap_s(start, start + 1.5 * 3600) == 1800.0
        assert air.gap_s(start + 2 * 3600, start + 4 * 3600) == 0.0

    def test_air_that_was_never_good(self) -> None:
        air = room_air(hours=1, gaps=[(0, 1)])
        assert air.last_good is None


class TestHungElsewhere:
    COLD = room_air(hours=4, temperature_k=285.0, gaps=[(0, 1)])
    WARM = room_air(hours=4, temperature_k=295.0, swing_k=6.0)

    def test_the_one_rooms_air_and_then_the_others(self) -> None:
        both = self.COLD.then(self.WARM, (T0 + h(2)).timestamp())
        assert both.series.temperature_k[:24].tolist() == self.COLD.series.temperature_k[:24].tolist()
        assert both.series.temperature_k[24:].tolist() == self.WARM.series.temperature_k[24:].tolist()
        assert both.measured.tolist() == [False] * 12 + [True] * 36

    def test_a_move_in_the_middle_of_five_minutes_counts_by_their_middle(self) -> None:
        cold, warm = room_air(hours=1, temperature_k=285.0), room_air(hours=1, temperature_k=295.0)
        early = cold.then(warm, (T0 + minutes(2)).timestamp())
        late = cold.then(warm, (T0 + minutes(3)).timestamp())
        assert (early.series.temperature_k[0], late.series.temperature_k[0]) == (295.0, 285.0)

    @pytest.mark.parametrize("minute", [-2, 0, 2])
    def test_held_from_an_instant_on_its_last_air_goes_on_unmeasured(self, minute: float) -> None:
        held = self.WARM.held_from((T0 + h(2) + minutes(minute)).timestamp())
        assert held.measured.tolist() == [True] * 24 + [False] * 24
        assert set(held.series.temperature_k[24:].tolist()) == {float(self.WARM.series.temperature_k[23])}

    def test_carried_back_its_first_air_stands_in_unmeasured(self) -> None:
        back = self.WARM.carried_back((T0 + h(2)).timestamp(), T0.timestamp())
        assert back.measured.tolist() == [False] * 24 + [True] * 24
        assert set(back.series.temperature_k[:24].tolist()) == {float(self.WARM.series.temperature_k[24])}

    def test_from_the_start_on_there_is_nothing_to_carry_back(self) -> None:
        assert self.WARM.carried_back(T0.timestamp(), T0.timestamp()) is self.WARM


class TestTenMinuteMeans:
    def test_on_whole_ten_minutes_within_the_span(self) -> None:
        start = T0.timestamp()
        found = ten_minute_means(room_air(hours=2).series, start + 60, start + 3600)
        assert [p[0] - start for p in found] == [900, 1500, 2100, 2700, 3300]

    def test_values_are_those_of_the_air(self) -> None:
        (found,) = ten_minute_means(room_air(hours=1).series, T0.timestamp(), T0.timestamp() + 600)
        assert found[1:] == pytest.approx((294.15, 0.5, 0.2))

    @pytest.mark.parametrize("seconds", [0, 1, 599])
    def test_less_than_ten_minutes_are_none(self, seconds: float) -> None:
        assert ten_minute_means(room_air(hours=1).series, T0.timestamp(), T0.timestamp() + seconds) == []


@given(
    sent=st.lists(
        st.tuples(st.floats(0, 6), st.floats(280, 305), st.sampled_from(["wall", "beam", "door"])),
        min_size=1,
        max_size=40,
    )
)
def test_the_air_never_leaves_what_was_measured(sent: list[tuple[float, float, str]]) -> None:
    """However sparse and mixed: between the lowest and highest reading, finite everywhere, gaps told."""
    made = book(*(one for hour, kelvin, who in sent for one in pair(T0 + h(hour), kelvin, sensor=who)))
    air = air_of(made, T0, T0 + h(7))
    kelvins = [kelvin for _, kelvin, _ in sent]
    assert min(kelvins) - 1e-9 <= air.series.temperature_k.min()
    assert air.series.temperature_k.max() <= max(kelvins) + 1e-9
    heard = np.array([(T0 + h(hour)).timestamp() // BIN_S for hour, _, _ in sent])
    for middle, measured in zip(air.series.time_s, air.measured, strict=True):
        age = middle // BIN_S - heard
        assert measured == bool(np.any((age >= 0) & (age < STALE_AFTER_S // BIN_S)))


def test_instants_are_utc() -> None:
    """The same reading told in another zone falls into the same five minutes."""
    local = T0.astimezone(tz=None)
    assert air_of(book(*pair(local, 294.0)), T0, T0).measured.all()
    assert air_of(book(*pair(T0, 294.0)), local, local).last_good == datetime.fromtimestamp(
        T0.timestamp() + 150, UTC
    )
