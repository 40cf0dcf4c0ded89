"""When a mould gets due and how sure that is, in words."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from service import words
from service.records.shop_facts import Site
from service.room.views import MouldNow, Stage
from service.units import Units
from service.words.due import ROUND, DueRange, likely_at
from tests.service.alerts.scene import DAMP, NOW, hours, minutes, mould, ready, unsure

SITE = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)
US = Site("Yard", 4.0, "America/New_York", Units.US)
INSTANT = timedelta(microseconds=1)
ABOUT = NOW + minutes(90)  # 15:50
BELL = NOW + minutes(110)
LATE = NOW + minutes(140)


def clock(at: datetime) -> str:
    return f"{at:%H:%M}"


def said(view: MouldNow, site: Site | None = SITE, now: datetime = NOW) -> str | None:
    return words.due_range(view, site, now)


def test_about_and_surely() -> None:
    assert said(unsure()) == "about 15:50, surely by 16:40"
    assert said(unsure(9)) == "about 15:50, surely by 16:40"


@pytest.mark.parametrize(
    ("late_at", "hour"),
    [
        (LATE, "16:40"),
        (LATE + INSTANT, "16:45"),
        (LATE + minutes(4.9), "16:45"),
        (ABOUT + timedelta(days=1), "Tue 15:50"),
    ],
)
def test_surely_by_the_next_full_five_minutes(late_at: datetime, hour: str) -> None:
    assert said(unsure(due_late_at=late_at)) == f"about 15:50, surely by {hour}"


@pytest.mark.parametrize(
    ("off", "hour"), [(0.0, "15:50"), (2.5, "15:50"), (2.6, "15:55"), (-2.4, "15:50"), (-2.5, "15:45")]
)
def test_about_the_nearest_five_minutes(off: float, hour: str) -> None:
    assert said(unsure(about_at=ABOUT + minutes(off))) == f"about {hour}, surely by 16:40"


class TestOneHour:
    """What is as good as one hour is told as that hour alone, by the callers."""

    def test_the_same_minute(self) -> None:
        assert said(unsure(about_at=BELL, due_late_at=BELL)) is None

    def test_from_five_minutes_on_it_is_told(self) -> None:
        near = unsure(due_at=ABOUT + minutes(1), due_late_at=ABOUT + ROUND)
        assert said(near) == "about 15:50, surely by 15:55"
        assert said(replace(near, due_late_at=ABOUT + ROUND - INSTANT)) is None

    def test_nothing_but_an_hour_is_known(self) -> None:
        assert said(mould()) is None


class TestAnyTimeNow:
    """Between the likeliest hour and the bell."""

    def test_from_the_hour_that_is_told(self) -> None:
        assert said(unsure(), now=ABOUT - INSTANT) == "about 15:50, surely by 16:40"
        assert said(unsure(), now=ABOUT) == "any time now, surely by 16:40"
        assert said(unsure(), now=BELL - INSTANT) == "any time now, surely by 16:40"

    def test_until_the_bell(self) -> None:
        assert said(unsure(), now=BELL) is None
        assert said(ready(due_late_at=LATE)) is None

    def test_no_hour_that_has_passed_is_told_as_to_come(self) -> None:
        early = unsure(about_at=ABOUT + minutes(2))  # told as 15:50
        assert said(early, now=ABOUT) == "any time now, surely by 16:40"

    def test_still_so_after_nine_in_ten_where_the_bell_waits_longer(self) -> None:
        view = unsure(due_at=LATE + minutes(30))
        assert said(view, now=LATE + minutes(1)) == "any time now, surely by 17:10"


class TestTheBellLast:
    """Where the shop wants its bell surer than nine in ten."""

    def test_nothing_is_called_sure_before_its_bell(self) -> None:
        assert said(unsure(due_at=LATE + minutes(20))) == "about 15:50, surely by 17:00"

    def test_both_at_once(self) -> None:
        assert said(unsure(due_at=LATE)) == "about 15:50, surely by 16:40"

    def test_a_bell_without_an_hour(self) -> None:
        assert said(unsure(due_at=None)) == "about 15:50, perhaps much later"


class TestNoEnd:
    def test_perhaps_much_later(self) -> None:
        assert said(unsure(due_late_at=None)) == "about 15:50, perhaps much later"
        assert said(unsure(due_late_at=None), now=ABOUT) == "any time now, perhaps much later"

    def test_also_where_only_the_early_end_is_known(self) -> None:
        assert said(mould(due_early_at=NOW)) == "about 16:20, perhaps much later"

    def test_not_where_the_air_is_too_damp(self) -> None:
        damp = unsure(due_at=None, due_late_at=None, never=DAMP)
        assert said(damp) is None
        assert not words.has_hour(damp)


def test_across_days_the_day_is_told() -> None:
    view = unsure(about_at=ABOUT + hours(20), due_at=BELL + hours(20), due_late_at=LATE + hours(30))
    assert said(view) == "about Tue 11:50, surely by Tue 22:40"


def test_on_the_shops_own_clock() -> None:
    assert said(unsure(), US) == "about 10:50 am, surely by 11:40 am"


@pytest.mark.parametrize("stage", [stage for stage in Stage if stage not in (Stage.DRYING, Stage.FINAL_DRY)])
def test_what_waits_for_no_hour_has_none(stage: Stage) -> None:
    assert said(unsure(stage=stage)) is None


@pytest.mark.parametrize(
    ("changes", "at"),
    [
        ({}, ABOUT),
        ({"about_at": None}, BELL),
        ({"due_at": None}, ABOUT),
        ({"about_at": None, "due_at": None}, None),
    ],
)
def test_the_likeliest_hour(changes: dict[str, Any], at: datetime | None) -> None:
    assert likely_at(unsure(**changes)) == at
    assert words.has_hour(unsure(**changes)) is (at is not None)


class TestSureBy:
    """What a message adds to its bell."""

    def test_while_it_dries(self) -> None:
        assert words.sure_by(unsure(), NOW, clock) == "surely by 16:40"
        assert words.sure_by(unsure(due_late_at=None), NOW, clock) == "perhaps much later"

    def test_once_it_rang(self) -> None:
        rung = ready(due_late_at=NOW + minutes(20) + INSTANT)
        assert words.sure_by(rung, NOW, clock) == "surely by 14:45"

    @pytest.mark.parametrize(
        "rung",
        [ready(), ready(due_late_at=NOW), ready(since=minutes(1), due_late_at=NOW + minutes(3)), mould()],
    )
    def test_nothing_where_it_is_no_news(self, rung: MouldNow) -> None:
        assert words.sure_by(rung, NOW, clock) == ""


def test_each_part_alone() -> None:
    both = DueRange(ABOUT, LATE)
    assert (both.opening(clock), both.end(clock)) == ("about 15:50", "surely by 16:40")
    neither = DueRange(None, None)
    assert (neither.opening(clock), neither.end(clock)) == ("any time now", "perhaps much later")


class TestByHour:
    def names(self, *moulds: MouldNow) -> list[str]:
        return [m.name for m in sorted(moulds, key=words.by_hour)]

    def test_rows_stand_by_the_hour_they_show_not_by_the_bells(self) -> None:
        wide = unsure(name="Wide", about_at=ABOUT, due_at=ABOUT + hours(5), due_late_at=ABOUT + hours(6))
        narrow = unsure(name="Narrow", about_at=ABOUT + INSTANT, due_at=BELL)
        assert self.names(narrow, wide) == ["Wide", "Narrow"]

    def test_what_is_due_comes_first_even_if_another_was_likely_before_it(self) -> None:
        likely = unsure(name="Likely", about_at=NOW - hours(3))
        due = replace(ready(), name="Due", due_at=NOW)
        assert self.names(likely, due) == ["Due", "Likely"]

    def test_without_an_hour_last_and_by_name(self) -> None:
        damp = unsure(name="B", due_at=None, about_at=None, never=DAMP)
        also = replace(damp, name="A")
        assert self.names(damp, also, unsure(name="Z")) == ["Z", "A", "B"]
