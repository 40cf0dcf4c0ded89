"""Days and hours as people write them."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import BadInput
from service.papers.notebook_days import instant, written
from tests.service.room.cases import refused

NOV_3 = date(2024, 11, 3)
LONDON = ZoneInfo("Europe/London")


class TestDays:
    @pytest.mark.parametrize(
        "text",
        [
            "2024-11-03",
            "2024/11/3",
            "2024.11.03",
            "20241103",
            "3.11.2024",
            "03.11.24",
            "3. 11. 2024",
            "3 Nov 2024",
            "3rd November, 2024",
            "3-Nov-24",
            "3. November 2024",
            "Nov 3, 2024",
            "November 3rd 2024",
            "Sun 3 Nov 2024",
            "Sunday, 3.11.2024",
        ],
    )
    def test_that_can_be_read_in_one_way(self, text: str) -> None:
        found = written(text, "", 2026)
        assert (found.day_first, found.month_first, found.both_ways, found.told) == (
            NOV_3,
            NOV_3,
            False,
            False,
        )

    @pytest.mark.parametrize("text", ["3/11/2024", "03-11-2024", "3/11/24"])
    def test_that_can_be_read_in_two(self, text: str) -> None:
        found = written(text, "", 2026)
        assert (found.day_first, found.month_first) == (NOV_3, date(2024, 3, 11))
        assert found.both_ways

    def test_that_tell_which_way_their_writer_reads(self) -> None:
        first, second = written("25/11/2024", "", 2026), written("11/25/2024", "", 2026)
        assert first.told
        assert second.told
        assert first.day(False) == second.day(True) == date(2024, 11, 25)
        assert not written("5/5/2024", "", 2026).both_ways

    @pytest.mark.parametrize(
        ("text", "year"), [("1.2.26", 2026), ("1.2.27", 1927), ("1.2.99", 1999), ("1.2.70", 1970)]
    )
    def test_two_digits_are_the_last_such_year(self, text: str, year: int) -> None:
        if year < 1970:
            with refused("not_a_day"):
                written(text, "", 2026)
        else:
            assert written(text, "", 2026).day_first == date(year, 2, 1)

    @pytest.mark.parametrize(
        "text",
        [
            "31.11.2024",
            "30/30/2024",
            "3 Nov",
            "last week",
            "0/1/2024",
            "3.11.204",
            "2024-13-01",
            "x" * 100,
            "1/2/2024/3",
            "3 Mayo 2024",
        ],
    )
    def test_others_are_refused(self, text: str) -> None:
        with pytest.raises(BadInput):
            written(text, "", 2026)

    def test_a_spreadsheets_own_count_is_explained(self) -> None:
        with refused("day_counted") as told:
            written("45599", "", 2026)
        assert "format of a date" in told.value.todo

    @given(
        st.text(max_size=30) | st.from_regex(r"[0-9./: apmTZ+-]{0,20}", fullmatch=True), st.text(max_size=10)
    )
    def test_anything_is_read_or_refused(self, text: str, clock: str) -> None:
        try:
            found = written(text, clock, 2026)
        except BadInput:
            return
        assert found.day_first or found.month_first


class TestHours:
    @pytest.mark.parametrize(
        ("text", "clock"),
        [
            ("3.11.2024 14:20", time(14, 20)),
            ("2024-11-03T14:20:31", time(14, 20, 31)),
            ("3/11/2024, 2:20 pm", time(14, 20)),
            ("3 Nov 2024 at 2 PM", time(14, 0)),
            ("3.11.2024 12 am", time(0, 0)),
            ("3.11.2024 12:30 p.m.", time(12, 30)),
            ("3.11.2024 14h20", time(14, 20)),
            ("3.11.2024 14.20", time(14, 20)),
            ("3.11.2024", None),
        ],
    )
    def test_are_read(self, text: str, clock: time | None) -> None:
        assert written(text, "", 2026).clock == clock

    def test_may_stand_in_a_cell_of_their_own(self) -> None:
        assert written("3.11.2024", "7:05 am", 2026).clock == time(7, 5)

    @pytest.mark.parametrize("clock", ["25:00", "14", "13 pm", "0 am", "noon", "14:75", "14:20 14:30"])
    def test_others_are_refused(self, clock: str) -> None:
        with refused("not_an_hour"):
            written("3.11.2024", clock, 2026)

    @pytest.mark.parametrize(("text", "hours"), [("Z", 0), ("+01:00", 1), ("-0530", -5.5)])
    def test_may_say_their_zone(self, text: str, hours: float) -> None:
        zone = written(f"2024-11-03T14:20{text}", "", 2026).zone
        assert zone is not None
        assert zone.utcoffset(None) == timedelta(hours=hours)


class TestInstants:
    def test_on_the_shops_clock(self) -> None:
        assert instant(date(2024, 7, 1), time(12), LONDON) == datetime(2024, 7, 1, 11, tzinfo=UTC)

    def test_the_hour_that_spring_leaves_out_is_refused_to_the_minute(self) -> None:
        spring = date(2024, 3, 31)
        assert instant(spring, time(0, 59), LONDON) == datetime(2024, 3, 31, 0, 59, tzinfo=UTC)
        for clock in (time(1), time(1, 59)):
            with refused("hour_left_out"):
                instant(spring, clock, LONDON)
        assert instant(spring, time(2), LONDON) == datetime(2024, 3, 31, 1, tzinfo=UTC)

    def test_of_the_hour_that_comes_twice_the_first_is_taken(self) -> None:
        assert instant(date(2024, 10, 27), time(1, 30), LONDON) == datetime(2024, 10, 27, 0, 30, tzinfo=UTC)
