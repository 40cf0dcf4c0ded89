"""What is told of a clock, with dates where the day is another."""

from __future__ import annotations

from datetime import timedelta

import pytest

from service.alerts.clock_wrong import clock_behind, clock_put, clock_right_again
from service.alerts.conditions import conditions
from service.alerts.keys import stem, stem_of
from service.alerts.kinds import URGENT, Kind
from service.room.views import Trouble
from tests.service.alerts.scene import NOW, SITE, board, hours, ready, rules


def test_behind_says_both_times_and_what_to_do() -> None:
    told = clock_behind(NOW, NOW - timedelta(days=40), SITE, True)
    assert told.message.title == "The clock is wrong: no bell rings"
    assert (
        "shows Wed 21 Jan 14:20, but something was recorded at Mon 2 Mar 14:20 already" in told.message.body
    )
    assert "go by the feel of it" in told.message.body
    assert told.firing
    assert not clock_behind(NOW, NOW - hours(1), SITE, False).firing


@pytest.mark.parametrize(("by_h", "way", "off"), [(3, "forward", "early"), (-5, "back", "late")])
def test_put_says_by_how_much_and_which_way_bells_are_off(by_h: float, way: str, off: str) -> None:
    told = clock_put(NOW, by_h * 3600, SITE, NOW)
    assert told.message.title == f"The clock was put {way} by {abs(by_h)} h"
    assert f"may be wrong by {abs(by_h)} h" in told.message.body
    assert f"may come too {off} by as much" in told.message.body


def test_each_has_a_key_of_its_own_and_all_begin_alike() -> None:
    told = [
        clock_behind(NOW, NOW, SITE, True),
        clock_right_again(NOW, NOW),
        clock_put(NOW, 3600, SITE, NOW),
        clock_put(NOW + hours(1), 3600, SITE, NOW),
    ]
    assert len({condition.key for condition in told}) == 4
    for condition in told:
        assert stem_of(condition.key) == condition.stem
        assert condition.key.startswith(stem(Kind.CLOCK_WRONG))


def test_it_waits_for_no_hour_of_a_clock_that_is_wrong() -> None:
    assert Kind.CLOCK_WRONG in URGENT


@pytest.mark.parametrize(
    ("dipped_before_h", "said"),
    [(1.0, True), (0.0, False), (-0.5, False)],
)
def test_a_bell_says_that_the_clock_was_put_forward_since_the_dip(dipped_before_h: float, said: bool) -> None:
    put = Trouble("clock_put_forward", "The clock was put forward.", NOW - hours(1), 3 * 3600.0)
    mould = ready(last_dip_at=NOW - hours(1) - hours(dipped_before_h))
    (bell,) = [c for c in conditions(board(mould, troubles=(put,)), rules()) if c.kind is Kind.NEXT_DIP]
    line = "The clock was put forward by 3 h, to 13:20: this may be too early by as much"
    assert (line in bell.message.body) is said


@pytest.mark.parametrize("code", ["clock_put_back", "clock_set_right", "clock_behind"])
def test_other_words_about_the_clock_are_not_in_the_bells(code: str) -> None:
    trouble = Trouble(code, "The clock.", NOW, 3600.0)
    (bell,) = [c for c in conditions(board(ready(), troubles=(trouble,)), rules()) if c.kind is Kind.NEXT_DIP]
    assert "clock" not in bell.message.body
