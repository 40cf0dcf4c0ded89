"""Clock times as people write them, on ordinary days and on both nights when clocks change."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from api.fakes import SALTMARSH
from api.times import from_clock, is_night, nights, when
from service.errors import BadInput

NOW = datetime(2025, 12, 12, 14, 20, tzinfo=UTC)


class TestFromClock:
    def test_winter_is_utc_in_saltmarsh(self) -> None:
        assert from_clock("2025-12-12T14:20", SALTMARSH, NOW) == NOW

    def test_summer_is_an_hour_ahead(self) -> None:
        assert from_clock("2025-07-01T14:20", SALTMARSH, NOW) == datetime(2025, 7, 1, 13, 20, tzinfo=UTC)

    def test_a_shop_without_a_site_is_in_utc(self) -> None:
        assert from_clock("2025-07-01T14:20", None, NOW) == datetime(2025, 7, 1, 14, 20, tzinfo=UTC)

    def test_a_zone_that_is_written_counts(self) -> None:
        assert from_clock("2025-12-12T16:20+02:00", SALTMARSH, NOW) == NOW

    def test_the_hour_that_comes_twice_is_its_later_pass(self) -> None:
        later = datetime(2025, 10, 26, 1, 30, tzinfo=UTC)
        assert from_clock("2025-10-26T01:30", SALTMARSH, NOW) == later

    def test_but_its_earlier_one_while_the_later_is_still_to_come(self) -> None:
        first_pass = datetime(2025, 10, 26, 0, 30, tzinfo=UTC)
        assert from_clock("2025-10-26T01:30", SALTMARSH, first_pass + timedelta(minutes=5)) == first_pass

    def test_the_later_pass_at_its_exact_instant(self) -> None:
        later = datetime(2025, 10, 26, 1, 30, tzinfo=UTC)
        assert from_clock("2025-10-26T01:30", SALTMARSH, later) == later
        assert from_clock("2025-10-26T01:30", SALTMARSH, later - timedelta(seconds=1)) == later - timedelta(
            hours=1
        )

    def test_the_hour_that_spring_leaves_out_is_refused(self) -> None:
        with pytest.raises(BadInput, match="clocks went forward"):
            from_clock("2025-03-30T01:30", SALTMARSH, NOW)

    @pytest.mark.parametrize("year", ["0001", "0026", "1969", "3000", "9999"])
    @pytest.mark.parametrize("zone", ["", "+14:00", "-12:00"])
    def test_a_year_that_is_a_slip_is_told(self, year: str, zone: str) -> None:
        with pytest.raises(BadInput, match="in full") as told:
            from_clock(f"{year}-12-12T14:20{zone}", SALTMARSH, NOW, "wanted_by")
        assert (told.value.code, told.value.field) == ("year_wrong", "wanted_by")

    @pytest.mark.parametrize("text", ["02:00", "noon", "2025-13-01T00:00", "2025-12-12T25:00"])
    def test_what_is_no_time_is_told(self, text: str) -> None:
        with pytest.raises(BadInput) as told:
            from_clock(text, SALTMARSH, NOW, "wanted_by")
        assert told.value.field == "wanted_by"
        assert text in told.value.message


class TestWhen:
    def test_nothing_chosen_means_now(self) -> None:
        assert when("", "", SALTMARSH, NOW) is None
        assert when("0", "", SALTMARSH, NOW) is None

    def test_minutes_ago(self) -> None:
        assert when("20", "", SALTMARSH, NOW) == NOW - timedelta(minutes=20)

    def test_a_clock_time_wins(self) -> None:
        assert when("20", "2025-12-12T09:00", SALTMARSH, NOW) == datetime(2025, 12, 12, 9, tzinfo=UTC)

    @pytest.mark.parametrize("ago", ["soon", "-5", "nan", "inf", "1e9"])
    def test_what_is_no_number_of_minutes(self, ago: str) -> None:
        with pytest.raises(BadInput) as told:
            when(ago, "", SALTMARSH, NOW)
        assert told.value.field == "ago"


class TestNights:
    def test_from_seven_in_the_evening_to_seven(self) -> None:
        spells = nights(NOW, NOW + timedelta(hours=24), SALTMARSH)
        assert spells == [
            (datetime(2025, 12, 12, 19, tzinfo=UTC), datetime(2025, 12, 13, 7, tzinfo=UTC)),
        ]

    def test_a_shop_that_has_not_said_its_hours_has_none(self) -> None:
        assert nights(NOW, NOW + timedelta(hours=24), None) == []

    @pytest.mark.parametrize(
        ("hour", "minute", "night"),
        [(6, 59, True), (7, 0, False), (18, 59, False), (19, 0, True), (0, 0, True)],
    )
    def test_at_the_exact_minute(self, hour: int, minute: int, night: bool) -> None:
        assert is_night(datetime(2025, 12, 12, hour, minute, tzinfo=UTC), SALTMARSH) is night

    def test_both_ends_in_one_night(self) -> None:
        late = datetime(2025, 12, 12, 22, tzinfo=UTC)
        assert nights(late, late + timedelta(hours=2), SALTMARSH) == [(late, late + timedelta(hours=2))]
