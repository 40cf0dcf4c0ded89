"""Clock times, days and hours, most of all in the two nights of the year when clocks change."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import BadInput
from service.local_time import (
    ago,
    clock_time,
    date_and_time,
    day_mark,
    day_name,
    day_of_month,
    hour_mark,
    hour_marks,
    is_between,
    local,
    long_day,
    midnights,
    names_of_days,
    names_of_months,
    seconds_between,
    span,
    start_of_day,
    whole_day,
    working_hours,
    zone_named,
)
from service.records.shop_facts import Site
from service.units import Units
from service.voice import Language, Voice, speaking

LONDON = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)
NEW_YORK = Site("Saltmarsh Bronze", 4.0, "America/New_York", Units.US)
NOW = datetime(2026, 3, 2, 14, 20, tzinfo=UTC)  # a Monday

# Clock changes as the tz database has them: EU last Sunday of March and October at 01:00 UTC,
# US second Sunday of March and first of November at 02:00 local.
LONDON_FORWARD = datetime(2026, 3, 29, 1, 0, tzinfo=UTC)
LONDON_BACK = datetime(2026, 10, 25, 1, 0, tzinfo=UTC)
NEW_YORK_FORWARD = datetime(2026, 3, 8, 7, 0, tzinfo=UTC)
NEW_YORK_BACK = datetime(2026, 11, 1, 6, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("at", "words"),
    [
        (NOW, "14:20"),
        (datetime(2026, 3, 2, 0, 0, tzinfo=UTC), "00:00"),
        (datetime(2026, 3, 2, 23, 59, tzinfo=UTC), "23:59"),
        (datetime(2026, 3, 3, 0, 0, tzinfo=UTC), "Tue 00:00"),
        (datetime(2026, 3, 1, 23, 59, tzinfo=UTC), "Sun 23:59"),
        (datetime(2026, 3, 8, 9, 5, tzinfo=UTC), "Sun 09:05"),
        (datetime(2026, 3, 9, 9, 5, tzinfo=UTC), "9 Mar 09:05"),
        (datetime(2026, 2, 24, 9, 5, tzinfo=UTC), "Tue 09:05"),
        (datetime(2026, 2, 23, 9, 5, tzinfo=UTC), "23 Feb 09:05"),
        (datetime(2025, 12, 12, 9, 5, tzinfo=UTC), "12 Dec 2025 09:05"),
    ],
)
def test_a_clock_time_names_the_day_only_where_needed(at: datetime, words: str) -> None:
    assert clock_time(at, LONDON, NOW) == words


@pytest.mark.parametrize(
    ("at", "words"),
    [
        (datetime(2026, 3, 2, 5, 0, tzinfo=UTC), "12:00 am"),
        (datetime(2026, 3, 2, 17, 0, tzinfo=UTC), "12:00 pm"),
        (datetime(2026, 3, 2, 19, 20, tzinfo=UTC), "2:20 pm"),
        (datetime(2026, 3, 3, 14, 5, tzinfo=UTC), "Tue 9:05 am"),
        (datetime(2026, 4, 12, 13, 5, tzinfo=UTC), "Apr 12 9:05 am"),
    ],
)
def test_a_shop_with_us_units_reads_a_twelve_hour_clock(at: datetime, words: str) -> None:
    assert clock_time(at, NEW_YORK, NOW) == words


def test_the_local_day_decides_not_the_utc_day() -> None:
    late = datetime(2026, 7, 1, 23, 30, tzinfo=UTC)  # half past midnight on the 2nd in London
    assert clock_time(late, LONDON, datetime(2026, 7, 2, 9, 0, tzinfo=UTC)) == "00:30"
    assert clock_time(late, NEW_YORK, datetime(2026, 7, 1, 12, 0, tzinfo=UTC)) == "7:30 pm"


def test_a_shop_without_a_place_reads_utc_and_is_told_so() -> None:
    assert clock_time(NOW, None, NOW) == "14:20 UTC"


def test_the_night_the_clocks_go_back_says_which_half_past_one() -> None:
    times = [
        clock_time(LONDON_BACK + timedelta(minutes=m), LONDON, LONDON_BACK) for m in (-61, -60, -1, 0, 59, 60)
    ]
    assert times == ["00:59", "01:00 BST", "01:59 BST", "01:00 GMT", "01:59 GMT", "02:00"]


def test_the_night_the_clocks_go_back_in_new_york() -> None:
    times = [
        clock_time(NEW_YORK_BACK + timedelta(minutes=m), NEW_YORK, NEW_YORK_BACK)
        for m in (-61, -60, -1, 0, 60)
    ]
    assert times == ["12:59 am", "1:00 am EDT", "1:59 am EDT", "1:00 am EST", "2:00 am"]


@pytest.mark.parametrize(
    ("change", "site", "times"),
    [
        (LONDON_FORWARD, LONDON, ["00:59", "02:00", "02:59"]),
        (NEW_YORK_FORWARD, NEW_YORK, ["1:59 am", "3:00 am", "3:59 am"]),
    ],
)
def test_the_night_the_clocks_go_forward_skips_an_hour(
    change: datetime, site: Site, times: list[str]
) -> None:
    assert [clock_time(change + timedelta(minutes=m), site, change) for m in (-1, 0, 59)] == times


@pytest.mark.parametrize(
    ("days", "word"),
    [(-7, "23 Feb"), (-2, "Sat"), (-1, "yesterday"), (0, "today"), (1, "tomorrow"), (4, "Fri")],
)
def test_days_have_the_names_people_use(days: int, word: str) -> None:
    assert day_name(NOW + timedelta(days=days), LONDON, NOW) == word


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (-5, "under a minute"),
        (0, "under a minute"),
        (29, "under a minute"),
        (31, "1 min"),
        (40 * 60, "40 min"),
        (59.4 * 60, "59 min"),
        (59.6 * 60, "1 h"),
        (130 * 60, "2 h 10 min"),
        (24 * 3600, "24 h"),
        (48 * 3600 - 60, "47 h 59 min"),
        (48 * 3600, "2 days"),
        (76 * 3600, "3 days 4 h"),
    ],
)
def test_a_span_is_said_in_the_largest_two_units(seconds: float, words: str) -> None:
    assert span(seconds) == words


@pytest.mark.parametrize(
    ("seconds", "words"), [(59, "under a minute"), (60, "1 min"), (3599, "59 min"), (3600, "1 h")]
)
def test_an_age_counts_full_minutes_only(seconds: float, words: str) -> None:
    assert ago(seconds) == words


@given(st.floats(0, 30 * 86400))
def test_a_span_always_has_a_unit_and_an_age_is_never_overstated(seconds: float) -> None:
    assert span(seconds).split()[-1] in {"minute", "min", "h", "days"}
    assert _minutes(ago(seconds)) <= seconds / 60


def _minutes(words: str) -> float:
    sizes = {"minute": 1, "min": 1, "h": 60, "days": 1440}
    parts = words.replace("under a", "0").split()
    return sum(float(number) * sizes[unit] for number, unit in zip(parts[::2], parts[1::2], strict=True))


@pytest.mark.parametrize(
    ("site", "day", "length_h"),
    [
        (LONDON, date(2026, 3, 29), 23),
        (LONDON, date(2026, 10, 25), 25),
        (NEW_YORK, date(2026, 3, 8), 23),
        (NEW_YORK, date(2026, 11, 1), 25),
        (LONDON, date(2026, 3, 2), 24),
    ],
)
def test_days_are_as_long_as_the_clock_makes_them(site: Site, day: date, length_h: int) -> None:
    begins, ends = start_of_day(day, site), start_of_day(day + timedelta(days=1), site)
    assert ends - begins == timedelta(hours=length_h)
    assert midnights(begins, ends, site) == [begins]
    assert len(hour_marks(begins, ends, site)) == length_h


def test_midnights_of_a_window_include_its_start_and_not_its_end() -> None:
    first, last = datetime(2026, 3, 1, tzinfo=UTC), datetime(2026, 3, 3, tzinfo=UTC)
    assert midnights(first, last, LONDON) == [first, first + timedelta(days=1)]
    assert midnights(first + timedelta(seconds=1), last, LONDON) == [first + timedelta(days=1)]


def test_hour_marks_stand_on_local_hours() -> None:
    kathmandu = replace(LONDON, time_zone="Asia/Kathmandu")  # 5 h 45 min ahead of UTC
    marks = hour_marks(NOW, NOW + timedelta(hours=6), kathmandu, every=2)
    assert [f"{local(m, kathmandu):%H:%M}" for m in marks] == ["22:00", "00:00", "02:00"]


def test_working_hours_are_cut_to_the_window_and_follow_the_clock_change() -> None:
    since, until = datetime(2026, 3, 28, 12, 0, tzinfo=UTC), datetime(2026, 3, 29, 12, 0, tzinfo=UTC)
    assert working_hours(since, until, LONDON) == [
        (since, datetime(2026, 3, 28, 19, 0, tzinfo=UTC)),
        (datetime(2026, 3, 29, 6, 0, tzinfo=UTC), until),  # 7:00 is an hour earlier in UTC now
    ]


def test_a_working_day_may_end_at_midnight() -> None:
    long_day = replace(LONDON, day_starts_hour=0, day_ends_hour=24)
    assert working_hours(NOW, NOW + timedelta(hours=1), long_day) == [(NOW, NOW + timedelta(hours=1))]


@pytest.mark.parametrize(
    ("at", "inside"),
    [("21:59:59", False), ("22:00:00", True), ("23:59:59", True), ("06:29:59", True), ("06:30:00", False)],
)
def test_between_runs_over_midnight_and_takes_its_start_but_not_its_end(at: str, inside: bool) -> None:
    moment = datetime.fromisoformat(f"2026-03-02T{at}+00:00")
    assert is_between(moment, time(22), time(6, 30), LONDON) is inside


def test_between_within_a_day() -> None:
    assert is_between(NOW, time(14, 20), time(15), LONDON)
    assert not is_between(NOW, time(13), time(14, 20), LONDON)
    assert not is_between(NOW, time(14, 20), time(14, 20), LONDON)


@pytest.mark.parametrize("name", ["Europe/Lodnon", "", "../etc/passwd", "Mars/Olympus", "/"])
def test_an_unknown_time_zone_is_told_in_words(name: str) -> None:
    with pytest.raises(BadInput, match="is not a time zone") as caught:
        zone_named(name)
    assert caught.value.code == "time_zone_unknown"
    assert "Europe/London" in caught.value.todo


def test_two_instants_that_read_the_same_on_the_wall_stay_two() -> None:
    before, after = LONDON_BACK - timedelta(minutes=30), LONDON_BACK + timedelta(minutes=30)
    assert local(before, LONDON).replace(tzinfo=None) == local(after, LONDON).replace(tzinfo=None)
    assert before != after


@pytest.mark.parametrize(
    ("hour", "on_24", "on_12"), [(0, "0", "12"), (1, "1", "1"), (12, "12", "12"), (13, "13", "1")]
)
def test_hours_on_a_line_go_as_the_shops_clocks_do(hour: int, on_24: str, on_12: str) -> None:
    there = datetime(2026, 3, 2, hour)
    assert [hour_mark(there, site) for site in (LONDON, None, NEW_YORK)] == [on_24, on_24, on_12]


@pytest.mark.parametrize(
    ("days", "london", "new_york"),
    [
        (0, "14:20", "9:20 am"),
        (1, "Tue 3 Mar 14:20", "Tue Mar 3 9:20 am"),
        (-1, "Sun 1 Mar 14:20", "Sun Mar 1 9:20 am"),
        (8, "Tue 10 Mar 14:20", "Tue Mar 10 10:20 am"),
    ],
)
def test_a_day_that_may_be_last_weeks_or_next_weeks_has_its_date(
    days: int, london: str, new_york: str
) -> None:
    at = NOW + timedelta(days=days)
    assert [date_and_time(at, site, NOW) for site in (LONDON, NEW_YORK)] == [london, new_york]


def test_a_long_day_is_written_as_people_there_write_it() -> None:
    assert long_day(NOW, LONDON) == "Monday 2 March"
    assert long_day(NOW, NEW_YORK) == "Monday, March 2"
    assert long_day(NOW.replace(hour=1), NEW_YORK) == "Sunday, March 1"


def test_seconds_between_two_instants_are_never_less_than_none() -> None:
    assert seconds_between(NOW, NOW + timedelta(hours=1, microseconds=500_000)) == 3600.5
    assert seconds_between(NOW, NOW) == 0.0
    assert seconds_between(NOW, NOW - timedelta(days=1)) == 0.0


def test_days_and_months_in_the_language_of_whoever_asks() -> None:
    with speaking(Voice(Language.SPANISH)):
        assert names_of_days("wide")[0] == "lunes"
        assert names_of_months("abbreviated")[12] == "dic"
    assert (names_of_days("abbreviated")[4], names_of_months("wide")[12]) == ("Fri", "December")


def test_a_day_with_its_year() -> None:
    assert whole_day(date(2025, 12, 12)) == "Friday 12 December 2025"
    assert day_of_month(date(2025, 12, 12)) == "12 December 2025"


def test_a_day_on_a_line_of_hours_goes_by_its_name_in_the_language_spoken() -> None:
    sunday = datetime(2025, 12, 14, tzinfo=UTC)
    assert day_mark(sunday) == "Sun"
    with speaking(Voice(Language.SPANISH)):
        assert day_mark(sunday) == "dom"
