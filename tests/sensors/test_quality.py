"""The judge, at each border exactly."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sensors.decode import Measured
from sensors.quality import (
    AGREEING,
    CLOCK_AHEAD,
    CLOCK_BEHIND,
    MOST_TRACKS,
    NO_MEASUREMENT,
    REPEAT_S,
    Judge,
    Old,
    Verdict,
)
from sensors.quantities import KINDS
from service.reading import Flag, Quantity, Reading, Reason, Rejected
from tests.sensors.helpers import NOW, measured, message

T = Quantity.AIR_TEMPERATURE
RH = Quantity.RELATIVE_HUMIDITY
SURFACE = Quantity.SURFACE_TEMPERATURE


class Bench:
    """A judge, and a clock that goes on by itself."""

    def __init__(self) -> None:
        self.judge = Judge()
        self.now_s = 0.0

    def hear(self, *values: Measured, after_s: float = 10.0, **more: bool) -> list[Verdict]:
        self.now_s += after_s
        return self.judge.judge(message(after_s=self.now_s, **more), values)

    def one(self, value: Measured, after_s: float = 10.0, **more: bool) -> Verdict:
        (verdict,) = self.hear(value, after_s=after_s, **more)
        return verdict

    def degrees(self, *degc: float, after_s: float = 10.0) -> list[bool]:
        """Which of these air temperatures in a row are taken."""
        return [isinstance(self.one(measured(T, t), after_s), Reading) for t in degc]


def reason(verdict: Verdict) -> Reason | None:
    return verdict.reason if isinstance(verdict, Rejected) else None


def first(quantity: Quantity, sent: float, unit: str | None = None) -> Verdict:
    return Bench().one(measured(quantity, sent, unit))


def test_a_good_number_becomes_a_reading() -> None:
    verdict = Bench().one(measured(T, 21.5), after_s=7.0)
    at = NOW + timedelta(seconds=7)
    assert verdict == Reading("bench", T, pytest.approx(294.65), at, at, None)


@pytest.mark.parametrize(
    ("quantity", "lowest", "highest"),
    [
        (T, -30.0, 60.0),
        (RH, 2.0, 105.0),
        (Quantity.AIR_SPEED, 0.0, 20.0),
        (Quantity.PRESSURE, 600.0, 1100.0),
        (SURFACE, -30.0, 1300.0),
        (Quantity.WEIGHT, -1.0, 1000.0),
    ],
)
def test_range_limits_are_in_and_just_beyond_is_out(
    quantity: Quantity, lowest: float, highest: float
) -> None:
    assert isinstance(first(quantity, lowest), Reading)
    assert isinstance(first(quantity, highest), Reading)
    assert reason(first(quantity, lowest - 1e-6)) is Reason.OUT_OF_RANGE
    assert reason(first(quantity, highest + 1e-6)) is Reason.OUT_OF_RANGE


def test_out_of_range_is_told_with_what_was_sent_and_what_is_taken() -> None:
    verdict = first(RH, 400.0)
    assert isinstance(verdict, Rejected)
    assert verdict.words == "400 % cannot be the humidity here: 2 % to 105 % is taken."
    assert (verdict.sensor, verdict.quantity) == ("bench", RH)


def test_degrees_that_may_be_fahrenheit_get_a_hint() -> None:
    hot, cold = first(T, 70.5), first(T, -40.0)
    assert isinstance(hot, Rejected)
    assert isinstance(cold, Rejected)
    assert hot.words.startswith("70.5 °C cannot be the air temperature here")
    assert hot.words.endswith("Is it in °F? Then say so in sensors.toml.")
    assert "°F" not in cold.words


@pytest.mark.parametrize(("sent", "hinted"), [(0.48, True), (1.0, True), (0.0, False), (1.5, False)])
def test_a_humidity_that_may_be_a_share_gets_a_hint(sent: float, hinted: bool) -> None:
    verdict = first(RH, sent)
    assert isinstance(verdict, Rejected)
    assert ("Is it a share of 1? Then its unit in sensors.toml is “dimensionless”" in verdict.words) is hinted


def test_saturated_air_is_clamped_with_a_flag() -> None:
    verdict = first(RH, 103.2)
    assert isinstance(verdict, Reading)
    assert (verdict.value, verdict.flag) == (1.0, Flag.CLAMPED)


def test_exactly_a_hundred_percent_needs_no_flag() -> None:
    verdict = first(RH, 100.0)
    assert isinstance(verdict, Reading)
    assert (verdict.value, verdict.flag) == (1.0, None)


@pytest.mark.parametrize("sent", sorted(NO_MEASUREMENT))
@pytest.mark.parametrize("quantity", list(Quantity))
def test_numbers_sent_for_no_measurement_are_known(quantity: Quantity, sent: float) -> None:
    assert reason(first(quantity, sent)) is Reason.SENTINEL


@pytest.mark.parametrize(("sent", "unit"), [(-127.0, "degC"), (-196.6, "degF")])
@pytest.mark.parametrize("quantity", [T, SURFACE])
def test_an_unplugged_probe_is_known_in_either_unit(quantity: Quantity, sent: float, unit: str) -> None:
    verdict = first(quantity, sent, unit)
    assert reason(verdict) is Reason.SENTINEL
    assert "wire" in str(verdict)


def test_a_real_pressure_of_999_is_taken() -> None:
    assert isinstance(first(Quantity.PRESSURE, 999.0), Reading)


@pytest.mark.parametrize(("sent", "unit"), [(85.0, "degC"), (185.0, "degF")])
def test_the_power_on_value_of_a_probe_is_refused_at_first(sent: float, unit: str) -> None:
    assert reason(first(SURFACE, sent, unit)) is Reason.SENTINEL


def test_the_power_on_value_is_refused_after_a_cold_reading() -> None:
    bench = Bench()
    bench.one(measured(SURFACE, 79.9))
    assert reason(bench.one(measured(SURFACE, 85.0))) is Reason.SENTINEL


@pytest.mark.parametrize("before", [80.0, 84.9, 85.1, 90.0])
def test_a_surface_that_was_as_hot_may_be_at_the_power_on_value(before: float) -> None:
    bench = Bench()
    bench.one(measured(SURFACE, before))
    assert isinstance(bench.one(measured(SURFACE, 85.0)), Reading)


@pytest.mark.parametrize("number", [0.0, 1.0])
def test_a_dead_pair_is_refused_whole(number: float) -> None:
    verdicts = Bench().hear(measured(T, number), measured(RH, number))
    assert [reason(verdict) for verdict in verdicts] == [Reason.SENTINEL, Reason.SENTINEL]


def test_one_degree_alone_is_weather() -> None:
    assert isinstance(first(T, 1.0), Reading)
    assert all(isinstance(v, Reading) for v in Bench().hear(measured(T, 1.0), measured(RH, 60.0)))


def test_a_broken_thermometer_spoils_the_humidity_beside_it_and_nothing_else() -> None:
    verdicts = Bench().hear(
        measured(T, -1000.0),
        measured(RH, 48.0),
        measured(Quantity.PRESSURE, 1013.0),
        measured(Quantity.AIR_SPEED, 1.1),
    )
    assert [reason(verdict) for verdict in verdicts[:2]] == [Reason.SENTINEL] * 2
    assert all(isinstance(verdict, Reading) for verdict in verdicts[2:])


def test_a_dead_pair_does_not_touch_another_sensor() -> None:
    *dead, other = Bench().hear(measured(T, 1.0), measured(RH, 1.0), measured(T, 1.0, sensor="gate"))
    assert [reason(verdict) for verdict in dead] == [Reason.SENTINEL] * 2
    assert isinstance(other, Reading)


def test_humidity_beside_an_unplugged_temperature_is_worth_nothing() -> None:
    verdicts = Bench().hear(measured(RH, 55.0), measured(T, -127.0))
    assert [reason(verdict) for verdict in verdicts] == [Reason.SENTINEL, Reason.SENTINEL]


def test_temperature_beside_a_broken_humidity_is_taken() -> None:
    temperature, humidity = Bench().hear(measured(T, 20.0), measured(RH, 0.0))
    assert isinstance(temperature, Reading)
    assert reason(humidity) is Reason.OUT_OF_RANGE


# How fast: 3 K at once and 0.2 K a second for air temperature, so 5 K within 10 s.


def test_a_change_of_exactly_the_limit_is_taken() -> None:
    assert Bench().degrees(20.0, 25.0) == [True, True]
    assert Bench().degrees(20.0, 15.0) == [True, True]


def test_a_change_just_beyond_the_limit_is_refused() -> None:
    assert Bench().degrees(20.0, 25.001) == [True, False]
    assert Bench().degrees(20.0, 14.999) == [True, False]


def test_a_jump_is_told_from_where_to_where() -> None:
    bench = Bench()
    bench.degrees(20.0)
    verdict = bench.one(measured(T, 40.0))
    assert reason(verdict) is Reason.TOO_FAST
    assert "20.0 °C to 40.0 °C in 10 s" in str(verdict)


def test_a_lone_spike_is_left_out() -> None:
    assert Bench().degrees(20.0, 40.0, 20.1, 20.2) == [True, False, True, True]


def test_spikes_that_keep_coming_never_count() -> None:
    assert Bench().degrees(*[20.0, 40.0] * 6) == [True, False] * 6


def test_a_true_step_is_taken_after_three_readings_that_agree() -> None:
    assert AGREEING == 3
    assert Bench().degrees(20.0, 40.0, 40.5, 41.0, 41.2) == [True, False, False, True, True]


def test_after_a_true_step_the_old_level_is_the_jump() -> None:
    assert Bench().degrees(20.0, 40.0, 40.0, 40.0, 20.0)[-1] is False


def test_readings_all_over_the_place_agree_on_nothing() -> None:
    assert Bench().degrees(20.0, 50.0, -20.0, 50.0, -20.0, 50.0)[1:] == [False] * 5


def test_a_wild_reading_in_between_starts_the_count_again() -> None:
    taken = Bench().degrees(20.0, 40.0, 40.0, -20.0, 40.0, 40.0, 40.0)
    assert taken == [True, False, False, False, False, False, True]


def test_coming_back_forgets_the_other_level() -> None:
    taken = Bench().degrees(20.0, 40.0, 40.0, 20.0, 40.0, 40.0, 40.0)
    assert taken == [True, False, False, True, False, False, True]


def test_a_first_reading_that_was_wild_locks_nobody_out() -> None:
    assert Bench().degrees(50.0, 20.0, 20.1, 20.0, 20.1) == [True, False, False, True, True]


def test_after_a_long_silence_any_weather_is_believed() -> None:
    bench = Bench()
    bench.degrees(-5.0)
    assert isinstance(bench.one(measured(T, 25.0), after_s=600.0), Reading)


@pytest.mark.parametrize("quantity", [Quantity.AIR_SPEED, Quantity.WEIGHT])
def test_a_fan_and_a_mould_hung_on_come_at_once(quantity: Quantity) -> None:
    bench = Bench()
    bench.one(measured(quantity, 0.0))
    assert isinstance(bench.one(measured(quantity, 19.0), after_s=1.0), Reading)


def test_sensors_and_quantities_are_judged_apart() -> None:
    bench = Bench()
    bench.hear(measured(T, 20.0), measured(T, 40.0, sensor="gate"), measured(RH, 50.0))
    verdicts = bench.hear(measured(T, 20.0), measured(T, 40.0, sensor="gate"), measured(RH, 51.0))
    assert all(isinstance(verdict, Reading) for verdict in verdicts)


# What the broker had kept.


def test_a_retained_value_is_old_and_keeps_no_place() -> None:
    bench = Bench()
    verdict = bench.one(measured(T, 45.0), retained=True)
    assert isinstance(verdict, Old)
    assert verdict.rejected.reason is Reason.RETAINED
    assert verdict.reading.value == pytest.approx(318.15)
    assert bench.degrees(20.0, 20.1) == [True, True]


def test_a_retained_value_makes_the_next_live_one_no_duplicate() -> None:
    bench = Bench()
    bench.one(measured(T, 20.0), retained=True)
    assert isinstance(bench.one(measured(T, 20.0), after_s=0.0), Reading)


def test_a_retained_value_that_is_nonsense_is_not_shown() -> None:
    assert reason(Bench().one(measured(T, -127.0), retained=True)) is Reason.SENTINEL
    assert reason(Bench().one(measured(RH, 400.0), retained=True)) is Reason.OUT_OF_RANGE


def test_a_retained_value_is_clamped_too() -> None:
    verdict = Bench().one(measured(RH, 104.0), retained=True)
    assert isinstance(verdict, Old)
    assert verdict.reading.value == 1.0


def test_a_retained_value_with_its_own_time_keeps_it() -> None:
    yesterday = NOW - timedelta(days=1)
    verdict = Bench().one(measured(T, 20.0, told=yesterday), retained=True)
    assert isinstance(verdict, Old)
    assert (verdict.reading.at, verdict.reading.flag) == (yesterday, None)


def test_a_retained_value_is_never_from_the_future() -> None:
    verdict = Bench().one(measured(T, 20.0, told=NOW + timedelta(days=1)), retained=True)
    assert isinstance(verdict, Old)
    assert verdict.reading.at == verdict.reading.received_at


# The sensor's own clock.


def stamped(degc: float, seconds: float) -> Measured:
    return measured(T, degc, told=NOW + timedelta(seconds=seconds))


def test_a_sensors_own_time_is_used() -> None:
    verdict = Bench().one(stamped(20.0, 4.0))
    assert isinstance(verdict, Reading)
    assert (verdict.at, verdict.received_at) == (NOW + timedelta(seconds=4), NOW + timedelta(seconds=10))
    assert verdict.flag is None


@pytest.mark.parametrize(
    ("off", "wrong"),
    [
        (CLOCK_AHEAD, False),
        (CLOCK_AHEAD + timedelta(microseconds=1), True),
        (-CLOCK_BEHIND, False),
        (-CLOCK_BEHIND - timedelta(microseconds=1), True),
        (timedelta(hours=1), True),
        (timedelta(days=-20000), True),
    ],
)
def test_a_clock_is_wrong_just_beyond_its_limits(off: timedelta, wrong: bool) -> None:
    verdict = Bench().one(measured(T, 20.0, told=NOW + timedelta(seconds=10) + off))
    assert isinstance(verdict, Reading)
    assert verdict.flag is (Flag.SENSOR_CLOCK_WRONG if wrong else None)
    assert verdict.at == (verdict.received_at if wrong or off > timedelta(0) else verdict.received_at + off)


def test_a_time_that_could_not_be_read_is_a_wrong_clock() -> None:
    verdict = Bench().one(replace(measured(T, 20.0), own_clock=True))
    assert isinstance(verdict, Reading)
    assert verdict.flag is Flag.SENSOR_CLOCK_WRONG


def test_a_wrong_clock_is_told_before_a_clamp() -> None:
    verdict = Bench().one(measured(RH, 104.0, told=NOW - timedelta(days=1)))
    assert isinstance(verdict, Reading)
    assert (verdict.value, verdict.flag) == (1.0, Flag.SENSOR_CLOCK_WRONG)


def test_the_same_time_twice_is_a_duplicate() -> None:
    bench = Bench()
    bench.one(stamped(20.0, 5.0))
    assert reason(bench.one(stamped(20.5, 5.0))) is Reason.DUPLICATE


def test_an_older_time_is_out_of_order() -> None:
    bench = Bench()
    bench.one(stamped(20.0, 5.0))
    assert reason(bench.one(stamped(20.0, 4.999999))) is Reason.OUT_OF_ORDER
    assert isinstance(bench.one(stamped(20.0, 5.000001)), Reading)


def test_out_of_order_leaves_the_newest_in_its_place() -> None:
    bench = Bench()
    bench.one(stamped(20.0, 8.0))
    bench.one(stamped(20.0, 2.0))
    assert reason(bench.one(stamped(20.0, 5.0))) is Reason.OUT_OF_ORDER


def test_readings_kept_back_and_sent_at_once_are_judged_by_their_times() -> None:
    bench = Bench()
    bench.now_s = 300.0
    verdicts = [bench.one(stamped(20.0 + 5.0 * n, 60.0 * n), after_s=0.1) for n in range(5)]
    assert all(isinstance(verdict, Reading) for verdict in verdicts)


def test_our_clock_set_back_locks_nobody_out() -> None:
    judge = Judge()
    before = message(after_s=3600.0)
    judge.judge(before, [stamped(20.0, 3600.0)])
    set_back = replace(message(after_s=5.0), received_s=3610.0)
    (verdict,) = judge.judge(set_back, [stamped(20.0, 5.0)])
    assert isinstance(verdict, Reading)
    assert verdict.flag is None


def test_our_clock_set_back_leaves_sensors_without_a_clock_in_order() -> None:
    judge = Judge()
    judge.judge(message(after_s=3600.0), [measured(T, 20.0)])
    set_back = replace(message(after_s=5.0), received_s=3610.0)
    (verdict,) = judge.judge(set_back, [measured(T, 20.0)])
    assert isinstance(verdict, Reading)


def test_a_sensor_whose_clock_was_wrong_is_in_order_once_it_is_set() -> None:
    bench = Bench()
    bench.one(stamped(20.0, 1e6))
    assert isinstance(bench.one(stamped(20.0, 15.0)), Reading)


# The same message twice, from sensors without a clock.


def test_the_same_number_at_once_is_a_duplicate() -> None:
    bench = Bench()
    bench.one(measured(T, 20.0))
    assert reason(bench.one(measured(T, 20.0), after_s=REPEAT_S - 0.001)) is Reason.DUPLICATE


def test_the_same_number_after_exactly_the_limit_is_a_reading() -> None:
    bench = Bench()
    bench.one(measured(T, 20.0))
    assert isinstance(bench.one(measured(T, 20.0), after_s=REPEAT_S), Reading)


def test_another_number_at_once_is_a_reading() -> None:
    bench = Bench()
    bench.one(measured(T, 20.0))
    assert isinstance(bench.one(measured(T, 20.1), after_s=0.0), Reading)


def test_a_message_delivered_again_is_a_duplicate_whenever() -> None:
    bench = Bench()
    bench.one(measured(T, 20.0))
    assert reason(bench.one(measured(T, 20.0), after_s=60.0, redelivered=True)) is Reason.DUPLICATE
    assert isinstance(bench.one(measured(T, 21.0), after_s=60.0, redelivered=True), Reading)


def test_a_stream_of_one_number_is_not_a_duplicate_for_ever() -> None:
    bench = Bench()
    verdicts = [bench.one(measured(T, 20.0), after_s=0.25) for _ in range(5)]
    assert [reason(verdict) for verdict in verdicts] == [None, Reason.DUPLICATE, None, Reason.DUPLICATE, None]


STEPS = st.lists(st.tuples(st.floats(-60.0, 90.0), st.floats(0.0, 100.0)), min_size=1, max_size=40)


@settings(max_examples=200, deadline=None)
@given(STEPS)
def test_whatever_comes_only_believable_readings_pass(steps: list[tuple[float, float]]) -> None:
    bench = Bench()
    kind = KINDS[T]
    verdicts = [bench.one(measured(T, degc), after_s) for degc, after_s in steps]
    taken = [v for v in verdicts if isinstance(v, Reading)]
    assert all(kind.lowest <= v.value <= kind.highest for v in taken)
    assert all(a.at <= b.at for a, b in pairwise(taken))


@settings(max_examples=200, deadline=None)
@given(STEPS, st.floats(-29.0, 59.0))
def test_whatever_came_before_a_steady_sensor_is_believed_again(
    steps: list[tuple[float, float]], degc: float
) -> None:
    bench = Bench()
    for before, after_s in steps:
        bench.one(measured(T, before), after_s)
    assert bench.degrees(*[degc] * AGREEING)[-1] is True


@pytest.mark.parametrize(("newcomers", "taken"), [(MOST_TRACKS - 1, False), (MOST_TRACKS, True)])
def test_names_without_end_are_not_all_kept_in_mind(newcomers: int, taken: bool) -> None:
    """A leap is refused only beside what is still remembered."""
    bench = Bench()
    assert bench.degrees(21.0, 35.0, after_s=1.0) == [True, False]
    for n in range(newcomers):
        bench.one(measured(T, 21.0, sensor=f"newcomer {n}"), after_s=0.0)
    assert bench.degrees(35.0, after_s=1.0) == [taken]
