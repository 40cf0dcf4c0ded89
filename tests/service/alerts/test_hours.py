"""Hours by the shop's clock: how they are written, over midnight, and on nights when the clocks change."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from service.alerts.hours import (
    DaysOff,
    DaysOffText,
    Hours,
    Works,
    WorksText,
    _plain,
    clock_reaches,
    day_names,
    read_days_off,
    read_hours,
    read_works,
    second_of_day,
)
from service.errors import BadInput
from service.local_time import local
from service.records.shop_facts import Site
from service.units import Units

LONDON = Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)
NEW_YORK = Site("Saltmarsh Bronze", 4.0, "America/New_York", Units.US)
LORD_HOWE = Site("Saltmarsh Bronze", 4.0, "Australia/Lord_Howe", Units.METRIC)  # moves by half an hour
HAVANA = Site("Saltmarsh Bronze", 4.0, "America/Havana", Units.METRIC)  # moves at midnight
H = 3600
WEEK = frozenset(range(7))
SECOND = timedelta(seconds=1)


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("22:00-06:30", Hours(22 * H, 6 * H + 1800)),
        (" 7:00 - 17:05 ", Hours(7 * H, 17 * H + 300)),
        ("07:00–17:00", Hours(7 * H, 17 * H)),  # the long dash of a word processor
        ("00:00-24:00", Hours(0, 24 * H)),
        ("22:00-24:00", Hours(22 * H, 24 * H)),
        ("22:00-00:00", Hours(22 * H, 0)),
        ("23:50-00:05", Hours(23 * H + 3000, 300)),
        ("08:00-08:15", Hours(8 * H, 8 * H + 900)),
    ],
)
def test_hours_as_people_write_them(text: str, hours: Hours) -> None:
    assert read_hours(text) == hours


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is not a span of hours"),
        ("22-6", "is not a span of hours"),
        ("22:00", "is not a span of hours"),
        ("22:00-06:30-07:00", "is not a span of hours"),
        ("24:01-06:00", "“24:01” is not a time of day"),
        ("25:00-06:00", "“25:00” is not a time of day"),
        ("07:60-08:00", "“07:60” is not a time of day"),
        ("08:00-08:00", "is too short"),
        ("00:00-00:00", "is too short"),
        ("24:00-00:00", "is too short"),
        ("08:00-08:14", "is too short"),
        ("23:50-00:04", "is too short"),
    ],
)
def test_hours_that_are_none(text: str, says: str) -> None:
    with pytest.raises(BadInput, match=says):
        read_hours(text)


@pytest.mark.parametrize(
    ("hours", "within", "without"),
    [
        ("07:00-17:00", [7 * H, 17 * H - 1], [7 * H - 1, 17 * H, 0]),
        ("22:00-06:30", [22 * H, 86399, 0, 6 * H + 1799], [22 * H - 1, 6 * H + 1800]),
        ("00:00-24:00", [0, 86399], []),
        ("22:00-24:00", [22 * H, 86399], [0, 22 * H - 1]),
        ("22:00-00:00", [22 * H, 86399], [0, 22 * H - 1]),
    ],
)
def test_the_first_second_is_within_and_the_last_is_not(
    hours: str, within: list[int], without: list[int]
) -> None:
    hold = read_hours(hours).hold
    assert [hold(second) for second in within] == [True] * len(within)
    assert [hold(second) for second in without] == [False] * len(without)


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("Mon-Fri 07:00-17:00", {0, 1, 2, 3, 4}),
        ("sat 07:00-17:00", {5}),
        ("Mon, Wed 07:00-17:00", {0, 2}),
        ("Monday – Wednesday,Sun 07:00-17:00", {0, 1, 2, 6}),
        ("Fri-Mon 07:00-17:00", {4, 5, 6, 0}),
        ("Sun-Sat 07:00-17:00", set(range(7))),
        ("Tues 07:00-17:00", {1}),
        ("07:00-17:00", set(range(7))),
    ],
)
def test_working_hours_as_people_write_them(text: str, days: set[int]) -> None:
    assert read_works(text) == Works(frozenset(days), Hours(7 * H, 17 * H))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "names no working hours"),
        ("Mon-Fri", "names no working hours"),
        ("Mo-Fr 07:00-17:00", "“Mo” is not a day of the week"),
        ("Monkey 07:00-17:00", "“Monkey” is not a day of the week"),
        ("Mon-Wed-Fri 07:00-17:00", "has more than two ends"),
        ("Mon, 07:00-17:00", "“” is not a day of the week"),
        ("Mon-Fri 07:00-12:00, Sat 08:00-12:00", "is not a day of the week"),
        ("Mon 07:00-07:10", "is too short"),
    ],
)
def test_working_hours_that_are_none(text: str, says: str) -> None:
    with pytest.raises(BadInput, match=says):
        read_works(text)


@pytest.mark.parametrize(
    ("works", "at", "begun"),
    [
        # Friday 6 March 2026; winter time, so the clock shows UTC
        ("Fri 22:00-06:00", "2026-03-06T21:59:59", None),
        ("Fri 22:00-06:00", "2026-03-06T22:00:00", "2026-03-06"),
        ("Fri 22:00-06:00", "2026-03-07T00:00:00", "2026-03-06"),
        ("Fri 22:00-06:00", "2026-03-07T05:59:59", "2026-03-06"),
        ("Fri 22:00-06:00", "2026-03-07T06:00:00", None),
        ("Fri 22:00-06:00", "2026-03-06T03:00:00", None),  # Thursday's night, which is not theirs
        ("Sun 22:00-06:00", "2026-03-09T05:00:00", "2026-03-08"),  # over the edge of the week
        ("Sun 22:00-06:00", "2026-03-08T05:00:00", None),
        ("Sun 22:00-24:00", "2026-03-08T23:59:59", "2026-03-08"),
        ("Sun 22:00-24:00", "2026-03-09T00:00:00", None),
        ("Sun 22:00-00:00", "2026-03-08T23:59:59", "2026-03-08"),
        ("Sun 22:00-00:00", "2026-03-09T00:00:00", None),
        ("Mon 00:00-24:00", "2026-03-09T00:00:00", "2026-03-09"),
        ("Mon 00:00-24:00", "2026-03-10T00:00:00", None),
        ("Mon-Fri 07:00-17:00", "2026-03-07T12:00:00", None),
    ],
)
def test_hours_over_midnight_belong_to_the_day_they_begin_on(works: str, at: str, begun: str | None) -> None:
    found = read_works(works).begun(local(utc(at), LONDON))
    assert found == (date.fromisoformat(begun) if begun else None)


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2026-12-24", "2026-12-24", "2026-12-24"),
        ("2026-12-24 to 2027-01-02", "2026-12-24", "2027-01-02"),
        (" 2028-02-29  to  2028-02-29 ", "2028-02-29", "2028-02-29"),
    ],
)
def test_days_off_as_people_write_them(text: str, first: str, last: str) -> None:
    assert read_days_off(text) == DaysOff(date.fromisoformat(first), date.fromisoformat(last))


@pytest.mark.parametrize(
    "text",
    ["", "Christmas", "24.12.2026", "2027-02-29", "2027-01-02 to 2026-12-24", "2026-12-24 to", "a to b to c"],
)
def test_days_off_that_are_none(text: str) -> None:
    with pytest.raises(BadInput, match="is no day off"):
        read_days_off(text)


@pytest.mark.parametrize("written", [date(2026, 12, 24), "2026-12-24"])
def test_a_day_may_be_written_without_quotes(written: object) -> None:
    adapter: TypeAdapter[DaysOff] = TypeAdapter(DaysOffText)
    assert adapter.validate_python(written) == DaysOff(date(2026, 12, 24), date(2026, 12, 24))


@pytest.mark.parametrize(
    ("kind", "written", "says"),
    [
        (DaysOffText, datetime(2026, 12, 24, 12), "is no whole day"),  # would never compare with a day
        (DaysOffText, 20261224, "in quotes"),
        (WorksText, 7, "in quotes"),
    ],
)
def test_what_toml_reads_as_something_else_is_told(kind: Any, written: object, says: str) -> None:
    with pytest.raises((BadInput, ValidationError), match=says):
        TypeAdapter(kind).validate_python(written)


# clocks that change


FORWARD_LONDON, BACK_LONDON = utc("2026-03-29T01:00"), utc("2026-10-25T01:00")
FORWARD_NEW_YORK, BACK_NEW_YORK = utc("2026-03-08T07:00"), utc("2026-11-01T06:00")


@pytest.mark.parametrize(
    ("site", "change", "before", "after"),
    [
        (LONDON, FORWARD_LONDON, "00:59:59", "02:00:00"),
        (LONDON, BACK_LONDON, "01:59:59", "01:00:00"),
        (NEW_YORK, FORWARD_NEW_YORK, "01:59:59", "03:00:00"),
        (NEW_YORK, BACK_NEW_YORK, "01:59:59", "01:00:00"),
    ],
)
def test_what_the_clock_shows_around_a_change(site: Site, change: datetime, before: str, after: str) -> None:
    shown = [
        f"{s // H:02}:{s // 60 % 60:02}:{s % 60:02}"
        for s in (second_of_day(change - SECOND, site), second_of_day(change, site))
    ]
    assert shown == [before, after]


@pytest.mark.parametrize(
    ("site", "at", "mark", "reached"),
    [
        (LONDON, "2026-03-02T14:20", "22:00", ["2026-03-02T22:00"]),
        (LONDON, "2026-03-02T22:00", "22:00", ["2026-03-03T22:00"]),  # after, not at
        (LONDON, "2026-03-02T21:59:59.999999", "22:00", ["2026-03-02T22:00"]),
        (LONDON, "2026-06-02T12:00", "22:00", ["2026-06-02T21:00"]),
        (LONDON, "2026-10-24T12:00", "01:30", ["2026-10-25T00:30", "2026-10-25T01:00", "2026-10-25T01:30"]),
        (LONDON, "2026-03-28T12:00", "06:30", ["2026-03-29T01:00", "2026-03-29T05:30"]),
        (NEW_YORK, "2026-03-07T20:00", "06:30", ["2026-03-08T07:00", "2026-03-08T10:30"]),
        (NEW_YORK, "2026-10-31T20:00", "01:30", ["2026-11-01T05:30", "2026-11-01T06:00", "2026-11-01T06:30"]),
        (None, "2026-03-28T12:00", "06:30", ["2026-03-29T06:30"]),
        (
            LORD_HOWE,
            "2026-04-04T13:00",
            "01:45",
            ["2026-04-04T14:45", "2026-04-04T15:00", "2026-04-04T15:15"],
        ),
        # at midnight of 8 March 2026 the clocks of Havana go on to 01:00: 00:00 is not shown at all
        (HAVANA, "2026-03-07T20:00", "01:00", ["2026-03-08T05:00"]),
    ],
)
def test_when_the_clock_comes_to_a_mark(site: Site | None, at: str, mark: str, reached: list[str]) -> None:
    second = int(mark[:2]) * H + int(mark[3:]) * 60
    found = clock_reaches([second], utc(at), site)
    assert [next(found) for _ in reached] == [utc(text) for text in reached]


def test_nothing_is_looked_for_beyond_the_days_asked_for() -> None:
    at = utc("2026-03-02T14:00")
    assert list(clock_reaches([14 * H], at, LONDON, timedelta(days=2))) == [
        at + timedelta(days=n) for n in (1, 2)
    ]
    assert list(clock_reaches([], at, LONDON, timedelta(days=2))) == []


@given(
    st.sampled_from([LONDON, NEW_YORK, LORD_HOWE, HAVANA, None]),
    st.sampled_from([FORWARD_LONDON, BACK_LONDON, FORWARD_NEW_YORK, BACK_NEW_YORK, utc("2026-03-08T05:00")]),
    st.integers(-90_000, 90_000),
    st.lists(st.integers(0, 95).map(lambda n: n * 900), min_size=2, max_size=2, unique=True),
)
@settings(max_examples=120, deadline=None)
def test_no_span_of_hours_changes_between_two_marks(
    site: Site | None, change: datetime, seconds: int, ends: list[int]
) -> None:
    """Looked at every five minutes of two days, as somebody would who has time."""
    hours, at = Hours(*ends), change + timedelta(seconds=seconds)
    steps = [at + timedelta(minutes=5 * n) for n in range(2 * 288)]
    marks = [at, *clock_reaches(ends, at, site, timedelta(days=2))]
    for step in steps:
        last = max(mark for mark in marks if mark <= step)
        assert hours.hold(second_of_day(step, site)) == hours.hold(second_of_day(last, site))


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("lun-vie 07:00-17:00", {0, 1, 2, 3, 4}),
        ("mié, SÁBADO 07:00-17:00", {2, 5}),
        ("mie 07:00-17:00", {2}),
        ("Dom 07:00-17:00", {6}),
    ],
)
def test_days_are_read_in_every_language_coatbell_speaks(text: str, days: set[int]) -> None:
    assert read_works(text).days == days


def test_no_three_letters_stand_for_two_days() -> None:
    every = [_plain(day)[:3] for days in day_names() for day in days]
    assert len(set(every)) == len(every) == 14
    assert read_days_off("2026-12-24 a 2027-01-02") == read_days_off("2026-12-24 to 2027-01-02")
