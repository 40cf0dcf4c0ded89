"""How long each word of one sensor counts: its rhythm, its stays, to the five minutes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np
import pytest

from service.room.heard import STALE_AFTER_S, Heard, Stay, Told, number_of
from tests.service.room.cases import T0, h, minutes, reading

INSTANT = timedelta(microseconds=1)


def sends(until: datetime, every_s: float, stays: Sequence[Stay] = ()) -> Heard:
    """A sensor that sends so often from T0 on, last just before `until`."""
    heard = Heard(stays)
    at = T0
    while at < until:
        heard.add(reading(at, 294.0))
        at += timedelta(seconds=every_s)
    return heard


def told(heard: Heard, until: datetime) -> Told:
    found = heard.told(np.arange(number_of(T0), number_of(until) + 1))
    assert found is not None
    return found


def speaks_at(heard: Heard, at: datetime) -> tuple[bool, bool]:
    """Whether its value still counts, and whether in its rhythm."""
    found = told(heard, at)
    return bool(np.isfinite(found.values[-1])), bool(found.regular[-1])


def test_nothing_heard_nothing_told() -> None:
    assert Heard().told(np.arange(3)) is None


def test_five_minutes_begin_with_their_edge() -> None:
    assert number_of(T0) == number_of(T0 + minutes(5) - INSTANT) == number_of(T0 + minutes(5)) - 1


@pytest.mark.parametrize(
    ("every_s", "in_rhythm_min"),
    [(1, 5), (60, 5), (100, 5), (150, 10), (300, 25), (600, 25), (1500, 25)],
)
def test_five_times_as_long_as_it_usually_waits(every_s: float, in_rhythm_min: float) -> None:
    """Beyond the five minutes of its last word, never less than five minutes and never past the half hour."""
    heard = sends(T0 + h(12), every_s)
    last = T0 + timedelta(seconds=every_s * np.ceil(12 * 3600 / every_s) - every_s)
    ends = T0 + minutes(5 * (number_of(last) - number_of(T0) + 1)) + minutes(in_rhythm_min)
    assert speaks_at(heard, ends - INSTANT) == (True, True)
    assert speaks_at(heard, ends)[1] is False


def test_a_slow_but_regular_sensor_speaks_all_along() -> None:
    for every_s in (300, 301, 599, 900, 1499):
        found = told(sends(T0 + h(12), every_s), T0 + h(12) - INSTANT)
        assert found.regular.all()


def test_one_outage_does_not_stretch_it() -> None:
    heard = sends(T0 + h(1), 60)
    for minute in range(60, 120):
        heard.add(reading(T0 + h(2) + minutes(minute), 294.0))
    assert speaks_at(heard, T0 + h(4) + minutes(5) - INSTANT) == (True, True)
    assert speaks_at(heard, T0 + h(4) + minutes(5)) == (True, False)


def test_out_of_rhythm_its_value_stands_for_half_an_hour_all_the_same() -> None:
    heard = sends(T0 + minutes(5), 60)
    assert speaks_at(heard, T0 + timedelta(seconds=STALE_AFTER_S) - INSTANT)[0]
    assert speaks_at(heard, T0 + timedelta(seconds=STALE_AFTER_S)) == (False, False)


def test_what_comes_later_changes_nothing_of_before() -> None:
    short, long = sends(T0 + h(2), 60), sends(T0 + h(2), 60)
    for hour in range(3, 20):
        long.add(reading(T0 + h(hour), 294.0))
    now = T0 + h(2) + minutes(20)
    assert told(short, now).regular.tolist() == told(long, now).regular.tolist()


class TestStays:
    EVER, NEVER = T0 - h(999), T0 + h(999)

    def test_taken_down_it_is_out_from_those_five_minutes_on(self) -> None:
        down = T0 + minutes(62)
        heard = sends(down, 60, [(self.EVER, down)])
        assert speaks_at(heard, T0 + h(1) - INSTANT) == (True, True)
        assert speaks_at(heard, T0 + h(1)) == (False, False)

    def test_hung_there_again_it_counts_once_it_speaks_again(self) -> None:
        down, up = T0 + h(1), T0 + minutes(70)
        heard = sends(down, 60, [(up, self.NEVER), (self.EVER, down)])
        assert speaks_at(heard, up + minutes(2)) == (False, False)
        heard.add(reading(up + minutes(3), 294.0))
        assert speaks_at(heard, up + minutes(3)) == (True, True)

    def test_before_it_came_it_is_not_heard(self) -> None:
        heard = sends(T0 + h(1), 60, [(T0 + minutes(59), self.NEVER)])
        assert np.isfinite(told(heard, T0 + minutes(59)).values).tolist() == [False] * 11 + [True]


def test_what_is_older_is_forgotten() -> None:
    heard = sends(T0 + h(2), 60)
    heard.forget_before(number_of(T0 + h(1)))
    found = told(heard, T0 + h(2) - INSTANT)
    assert np.isfinite(found.values).tolist() == [False] * 12 + [True] * 12
    assert len(heard) == 12
