"""Who was heard, on our clock."""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest

from sensors.watch import FORGOTTEN_AFTER, MOST_SENSORS, SensorHeard, Watch
from service.clock import FakeClock
from service.reading import Freshness, Quantity, Reading, Reason, Rejected
from tests.sensors.helpers import NOW

T, RH = Quantity.AIR_TEMPERATURE, Quantity.RELATIVE_HUMIDITY


class Room:
    """A watch on a clock that moves when told."""

    def __init__(self) -> None:
        self.clock = FakeClock(NOW)
        self.watch = Watch(self.clock)

    def good(
        self, value: float = 294.0, quantity: Quantity = T, every_s: float | None = 60.0, name: str = "bench"
    ) -> None:
        now = self.clock.now()
        self.watch.good(Reading(name, quantity, value, now, now), self.clock.monotonic(), every_s)

    def old(self, value: float = 280.0, quantity: Quantity = T) -> None:
        self.watch.old(Reading("bench", quantity, value, self.clock.now(), self.clock.now()))

    def reject(self, reason: Reason = Reason.SENTINEL, sensor: str | None = "bench") -> None:
        self.watch.rejected(Rejected("topic", "", self.clock.now(), reason, f"Words of {reason}.", sensor, T))

    @property
    def bench(self) -> SensorHeard:
        (only,) = self.watch.snapshot(self.clock.now())
        return only


def test_nobody_was_heard_at_first() -> None:
    assert Room().watch.snapshot(NOW) == ()


def test_a_good_reading_makes_a_sensor_fresh() -> None:
    room = Room()
    room.good(294.0)
    bench = room.bench
    assert (bench.name, bench.freshness, bench.last_good) == ("bench", Freshness.FRESH, NOW)
    assert (bench.values[0].quantity, bench.values[0].value, bench.values[0].at) == (T, 294.0, NOW)
    assert (bench.old_values, bench.last_reject) == (False, None)


@pytest.mark.parametrize(
    ("age_s", "found"),
    [
        (120.0, Freshness.FRESH),
        (120.5, Freshness.LATE),
        (300.0, Freshness.LATE),
        (300.5, Freshness.STALE),
    ],
)
def test_it_ages_by_its_declared_interval(age_s: float, found: Freshness) -> None:
    room = Room()
    room.good(every_s=60.0)
    room.clock.advance(age_s)
    assert room.bench.freshness is found
    assert room.bench.values[0].freshness is found


def test_it_ages_by_the_interval_it_keeps() -> None:
    room = Room()
    for _ in range(5):
        room.good(every_s=None)
        room.clock.advance(40.0)
    room.clock.advance(40.0)
    assert room.bench.interval_s == 40.0
    assert room.bench.freshness is Freshness.FRESH
    room.clock.advance(0.5)
    assert room.bench.freshness is Freshness.LATE


def test_a_wall_clock_set_right_makes_nobody_stale() -> None:
    room = Room()
    room.good()
    room.clock.jump(NOW + timedelta(days=400))
    assert room.bench.freshness is Freshness.FRESH


def test_a_wall_clock_set_back_keeps_nobody_fresh() -> None:
    room = Room()
    room.good()
    room.clock.advance(301.0)
    room.clock.jump(NOW - timedelta(days=1))
    assert room.bench.freshness is Freshness.STALE


def test_rejects_do_not_keep_a_sensor_fresh() -> None:
    room = Room()
    room.good()
    for _ in range(6):
        room.clock.advance(60.0)
        room.reject()
    assert room.bench.freshness is Freshness.STALE
    assert room.bench.last_good == NOW
    assert room.bench.last_reject == "Words of sentinel."
    assert room.bench.last_reject_at == NOW + timedelta(minutes=6)


def test_a_sensor_that_only_sent_rubbish_was_heard_but_never_good() -> None:
    room = Room()
    room.reject()
    assert (room.bench.freshness, room.bench.last_good, room.bench.values) == (Freshness.NEVER, None, ())


@pytest.mark.parametrize("reason", [Reason.RETAINED, Reason.DUPLICATE])
def test_what_is_no_fault_of_the_sensor_is_not_held_against_it(reason: Reason) -> None:
    room = Room()
    room.good()
    room.reject(reason)
    assert room.bench.last_reject is None


def test_a_reject_without_a_sensor_is_nobodys() -> None:
    room = Room()
    room.reject(Reason.UNKNOWN_TOPIC, sensor=None)
    assert room.watch.snapshot(NOW) == ()


def test_a_retained_value_is_shown_as_old_and_is_never_fresh() -> None:
    room = Room()
    room.old(280.0)
    bench = room.bench
    assert (bench.freshness, bench.last_good, bench.old_values) == (Freshness.NEVER, None, True)
    assert (bench.values[0].value, bench.values[0].old) == (280.0, True)
    assert bench.values[0].freshness is Freshness.NEVER


def test_a_live_value_takes_the_place_of_an_old_one() -> None:
    room = Room()
    room.old(280.0)
    room.good(294.0)
    assert (room.bench.values[0].value, room.bench.values[0].old, room.bench.old_values) == (
        294.0,
        False,
        False,
    )


def test_an_old_value_never_takes_the_place_of_a_live_one() -> None:
    room = Room()
    room.good(294.0)
    room.clock.advance(200.0)
    room.old(280.0)
    assert room.bench.values[0].value == 294.0
    assert room.bench.freshness is Freshness.LATE


def test_a_newer_old_value_takes_the_place_of_an_older_one() -> None:
    room = Room()
    room.old(280.0)
    room.old(281.0)
    assert room.bench.values[0].value == 281.0


def test_one_live_value_beside_an_old_one() -> None:
    room = Room()
    room.old(0.5, RH)
    room.good(294.0)
    assert not room.bench.old_values
    assert [(v.quantity, v.old) for v in room.bench.values] == [(T, False), (RH, True)]


def test_a_sensor_is_as_fresh_as_its_freshest_value_and_each_value_ages_alone() -> None:
    room = Room()
    room.good(0.5, RH)
    room.clock.advance(301.0)
    room.good(294.0, T)
    assert room.bench.freshness is Freshness.FRESH
    assert [v.freshness for v in room.bench.values] == [Freshness.FRESH, Freshness.STALE]


def test_sensors_are_listed_by_name() -> None:
    room = Room()
    for name in ("gate", "bench", "yard"):
        room.good(name=name)
    assert [sensor.name for sensor in room.watch.snapshot(NOW)] == ["bench", "gate", "yard"]


# Over a restart of ours.


@pytest.mark.parametrize(
    ("age_s", "found"),
    [
        (0.0, Freshness.FRESH),
        (120.0, Freshness.FRESH),
        (120.5, Freshness.LATE),
        (300.0, Freshness.LATE),
        (300.5, Freshness.STALE),
        (-1.0, Freshness.STALE),
    ],
)
def test_freshness_survives_our_restart(age_s: float, found: Freshness) -> None:
    room = Room()
    last_good = NOW - timedelta(seconds=age_s)
    room.watch.restore("bench", last_good, 60.0)
    assert (room.bench.freshness, room.bench.last_good, room.bench.interval_s) == (found, last_good, 60.0)
    assert room.bench.values == ()


def test_a_restored_sensor_goes_on_ageing_even_when_the_clock_is_set_right() -> None:
    room = Room()
    room.watch.restore("bench", NOW, 60.0)
    room.clock.jump(NOW + timedelta(hours=10))
    assert room.bench.freshness is Freshness.STALE


def test_a_retained_value_after_a_restart_leaves_the_age_alone() -> None:
    room = Room()
    room.watch.restore("bench", NOW - timedelta(seconds=200), 60.0)
    room.old()
    assert (room.bench.freshness, room.bench.old_values) == (Freshness.LATE, True)


def test_a_restored_interval_holds_until_another_is_learned() -> None:
    room = Room()
    room.watch.restore("bench", NOW - timedelta(days=1), 60.0)
    room.good(every_s=None)
    room.clock.advance(121.0)
    assert room.bench.interval_s == 60.0
    assert room.bench.freshness is Freshness.LATE


def test_a_sensor_restored_without_a_last_good_was_never_good() -> None:
    room = Room()
    room.watch.restore("bench", None)
    assert room.bench.freshness is Freshness.NEVER


def test_what_is_heard_in_this_run_is_not_changed_by_restoring() -> None:
    room = Room()
    room.good()
    room.watch.restore("bench", NOW - timedelta(days=1), 60.0)
    assert (room.bench.last_good, room.bench.freshness) == (NOW, Freshness.FRESH)


def full_room() -> Room:
    """As many sensors as there is room for, each heard a second after the one before."""
    room = Room()
    for n in range(MOST_SENSORS):
        assert room.watch.make_room_for(f"sensor {n}")
        room.good(name=f"sensor {n}")
        room.clock.advance(1)
    return room


def names(room: Room) -> set[str]:
    return {sensor.name for sensor in room.watch.snapshot(room.clock.now())}


def test_only_so_many_names_have_room() -> None:
    room = full_room()
    assert room.watch.turned_away_at is None
    assert not room.watch.make_room_for("one more")
    assert room.watch.turned_away_at == room.clock.now()
    assert room.watch.make_room_for("sensor 0")
    assert "one more" not in names(room)


def test_the_one_silent_longest_makes_room_after_an_hour() -> None:
    room = full_room()
    room.clock.advance(FORGOTTEN_AFTER.total_seconds() - MOST_SENSORS - 0.001)
    assert not room.watch.make_room_for("one more")
    room.clock.advance(0.001)
    assert room.watch.make_room_for("one more")
    assert "sensor 0" not in names(room)
    assert "sensor 1" in names(room)


def test_what_was_refused_is_a_word_too() -> None:
    room = full_room()
    room.clock.advance(3600)
    room.reject(sensor="sensor 0")
    assert room.watch.make_room_for("one more")
    assert {"sensor 0", "sensor 1"} - names(room) == {"sensor 1"}


def test_what_hangs_in_a_room_is_never_forgotten() -> None:
    room = full_room()
    room.watch.hang(["sensor 0", "sensor 1"])
    room.clock.advance(7 * 24 * 3600)
    assert room.watch.make_room_for("one more")
    assert {"sensor 0", "sensor 1", "sensor 2"} - names(room) == {"sensor 2"}
    room.watch.hang(names(room))
    room.good(name="one more")
    assert not room.watch.make_room_for("yet another")


def test_of_earlier_names_only_so_many_are_taken_but_all_that_hang() -> None:
    room = full_room()
    room.watch.hang(["porch"])
    room.watch.restore("stranger", NOW)
    room.watch.restore("porch", NOW)
    room.watch.restore("sensor 0", NOW, 45.0)
    assert "porch" in names(room)
    assert "stranger" not in names(room)


def test_reading_while_another_thread_writes() -> None:
    room = Room()
    writer = threading.Thread(target=lambda: [room.good(name=f"s{n % 50}") for n in range(3000)])
    writer.start()
    while writer.is_alive():
        heard = [sensor.name for sensor in room.watch.snapshot(NOW)]
        assert heard == sorted(heard)
    writer.join()
    assert len(room.watch.snapshot(NOW)) == 50
