"""Fresh, late, stale: at each border exactly."""

from __future__ import annotations

import pytest

from sensors.freshness import LONGEST_S, SHORTEST_S, Rhythm, freshness
from service.reading import UNKNOWN_INTERVAL_S, Freshness


@pytest.mark.parametrize(
    ("age_s", "found"),
    [
        (0.0, Freshness.FRESH),
        (60.0, Freshness.FRESH),
        (120.0, Freshness.FRESH),
        (120.001, Freshness.LATE),
        (300.0, Freshness.LATE),
        (300.001, Freshness.STALE),
        (1e9, Freshness.STALE),
        (-0.001, Freshness.STALE),
        (None, Freshness.NEVER),
    ],
)
def test_two_intervals_are_fresh_and_five_are_late(age_s: float | None, found: Freshness) -> None:
    assert freshness(age_s, 60.0) is found


def beats(*gaps_s: float, before_s: float | None = None) -> Rhythm:
    rhythm, now_s = Rhythm(before_s), 1000.0
    rhythm.beat(now_s)
    for gap_s in gaps_s:
        now_s += gap_s
        rhythm.beat(now_s)
    return rhythm


def test_a_declared_interval_wins() -> None:
    assert beats(10, 10, 10, before_s=90.0).interval_s(45.0) == 45.0


def test_nothing_known_is_five_minutes() -> None:
    assert Rhythm().interval_s(None) == UNKNOWN_INTERVAL_S == 300.0


def test_an_earlier_run_is_remembered_until_three_gaps_are_seen() -> None:
    assert beats(40, 40, before_s=90.0).interval_s(None) == 90.0
    assert beats(40, 40, 40, before_s=90.0).interval_s(None) == 40.0


def test_one_outage_does_not_stretch_the_rhythm() -> None:
    assert beats(60, 61, 7200, 60, 62).interval_s(None) == 62.0


def test_a_sensor_that_sends_on_change_is_judged_by_its_quiet_hours() -> None:
    assert beats(35, 40, 600, 38, 600, 35).interval_s(None) == 600.0


def test_only_the_last_ten_gaps_count() -> None:
    assert beats(*[600] * 10, *[60] * 8).interval_s(None) == 600.0
    assert beats(*[600] * 10, *[60] * 9).interval_s(None) == 60.0


def test_a_learned_rhythm_is_held_between_limits() -> None:
    assert beats(1, 1, 1).interval_s(None) == SHORTEST_S == 30.0
    assert beats(9999, 9999, 9999).interval_s(None) == LONGEST_S == 3600.0


def test_a_clock_that_steps_back_makes_no_negative_gap() -> None:
    rhythm = Rhythm()
    for heard_s in (100.0, 50.0, 40.0, 30.0):
        rhythm.beat(heard_s)
    assert rhythm.interval_s(None) == SHORTEST_S
