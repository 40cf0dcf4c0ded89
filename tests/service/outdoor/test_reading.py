"""A given forecast read: in any open shape, and whatever is wrong told in words at its field."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import BadInput
from service.outdoor.reading import MOST_HOURS, Given, check, read_given
from tests.service.outdoor.sent import HOUR, NOW, body, hours, outdoor

LONDON = ZoneInfo("Europe/London")


def read(sent: bytes, zone: Any = UTC, now: datetime = NOW, **said: Any) -> Given:
    return read_given(sent, outdoor(**said), zone, now)


def refused(sent: bytes, **said: Any) -> BadInput:
    with pytest.raises(BadInput) as problem:
        read(sent, **said)
    return problem.value


class TestShapes:
    def test_our_own(self) -> None:
        found = read(body())
        assert found.time_s.size == 49
        assert found.time_s[0] == NOW.replace(minute=0).timestamp()
        assert found.temperature_k[0] == pytest.approx(273.15 + 4.0 + 1.4)
        assert found.humidity == pytest.approx(np.full(49, 0.8))

    def test_parallel_lists(self) -> None:
        sent = {
            "hourly": {
                "when": [r["at"] for r in hours()],
                "t": [r["temperature"] for r in hours()],
                "rh": [80] * 49,
            }
        }
        found = read(
            json.dumps(sent).encode(), times="hourly.when", temperature="hourly.t", humidity="hourly.rh"
        )
        assert found.temperature_k == pytest.approx(read(body()).temperature_k)

    def test_moments_deep_inside(self) -> None:
        rows = [
            {"time": r["at"], "data": {"now": {"air": {"c": r["temperature"], "rh": 80}}}} for r in hours()
        ]
        found = read(
            json.dumps({"properties": {"series": rows}}).encode(),
            times="properties.series.time",
            temperature="properties.series.data.now.air.c",
            humidity="properties.series.data.now.air.rh",
        )
        assert found.humidity.size == 49

    def test_other_units(self) -> None:
        rows = [{**r, "temperature": 41.0, "humidity": 0.8} for r in hours()]
        found = read(body(rows), temperature_unit="degF", humidity_unit="")
        assert found.temperature_k == pytest.approx(np.full(49, 278.15))
        assert found.humidity == pytest.approx(np.full(49, 0.8))

    def test_a_dew_point_goes_before_the_humidity(self) -> None:
        """20 degC with a dew point of 9.3 degC: 50 % (ASHRAE HoF 2017 ch. 1 table 3: 1.172 kPa of 2.339 kPa)."""
        rows = [{**r, "temperature": 20.0, "dew": 9.3, "humidity": 99} for r in hours()]
        assert read(body(rows), dew_point="hours.dew").humidity == pytest.approx(
            np.full(49, 0.501), abs=0.003
        )

    def test_in_frost_humidity_over_water_becomes_ours_over_ice(self) -> None:
        """At -10 degC water 286.5 Pa, ice 259.9 Pa (Sonntag 1990; from memory): 80 % is 88 %."""
        rows = [{**r, "temperature": -10.0} for r in hours()]
        assert read(body(rows)).humidity == pytest.approx(np.full(49, 0.882), abs=0.003)

    def test_numbers_in_quotes_are_numbers(self) -> None:
        rows = [{**r, "temperature": "4.5"} for r in hours()]
        assert read(body(rows)).temperature_k[0] == pytest.approx(277.65)


class TestTimes:
    def rows(self, times: list[Any]) -> bytes:
        return body([{"at": at, "temperature": 4 + 0.1 * i, "humidity": 80} for i, at in enumerate(times)])

    def test_seconds_and_thousandths_since_1970(self) -> None:
        at = int(NOW.timestamp())
        seconds = read(self.rows([at, at + 3600]))
        thousandths = read(self.rows([at * 1000, at * 1000 + 3_600_000]))
        assert seconds.time_s.tolist() == thousandths.time_s.tolist() == [at, at + 3600.0]

    def test_with_another_zone(self) -> None:
        found = read(self.rows(["2026-03-01T15:00:00+01:00", "2026-03-01T16:00:00+01:00"]))
        assert found.time_s[0] == datetime(2026, 3, 1, 14, 0, tzinfo=UTC).timestamp()

    def test_without_one_by_the_shops_clock(self) -> None:
        summer = datetime(2026, 7, 1, 12, 0, tzinfo=UTC)
        found = read(self.rows(["2026-07-01T13:00", "2026-07-01T14:00"]), LONDON, summer)
        assert found.time_s[0] == summer.timestamp()

    def test_the_hour_that_comes_twice_comes_twice(self) -> None:
        """Clocks go back in London at 02:00 of 25 October 2026."""
        now = datetime(2026, 10, 24, 22, 0, tzinfo=UTC)
        local = ["2026-10-25T00:00", "2026-10-25T01:00", "2026-10-25T01:00", "2026-10-25T02:00"]
        found = read(self.rows(local), LONDON, now)
        assert np.diff(found.time_s).tolist() == [3600.0] * 3
        assert found.time_s[0] == datetime(2026, 10, 24, 23, 0, tzinfo=UTC).timestamp()

    def test_the_hour_that_is_left_out_is_left_out(self) -> None:
        """Clocks go forward in London at 01:00 of 29 March 2026."""
        now = datetime(2026, 3, 28, 22, 0, tzinfo=UTC)
        found = read(self.rows(["2026-03-29T00:00", "2026-03-29T02:00", "2026-03-29T03:00"]), LONDON, now)
        assert np.diff(found.time_s).tolist() == [3600.0] * 2

    def test_in_any_order_and_the_later_of_two_counts(self) -> None:
        at = int(NOW.timestamp())
        found = read(self.rows([at + 7200, at, at + 3600, at + 3600]))
        assert found.time_s.tolist() == [at, at + 3600.0, at + 7200.0]
        assert found.temperature_k[1] == pytest.approx(277.45)

    def test_one_that_cannot_be_read_is_left_out(self) -> None:
        at = int(NOW.timestamp())
        assert read(self.rows([at, "soon", at + 3600, True, None])).time_s.size == 2

    def test_far_past_and_far_future_are_left_out(self) -> None:
        at = int(NOW.timestamp())
        found = read(self.rows([at - 90 * 86400, at, at + 3600, at + 90 * 86400]))
        assert found.time_s.size == 2

    def test_years_that_are_none_are_no_times(self) -> None:
        assert refused(self.rows([1e300, float("1e14")])).code in (
            "outdoor_no_times",
            "outdoor_nothing_ahead",
        )


class TestGaps:
    def test_an_hour_without_one_of_both_is_left_out(self) -> None:
        rows = hours(6)
        rows[1]["temperature"] = None
        rows[2]["humidity"] = None
        del rows[3]["humidity"]
        assert read(body(rows)).time_s.size == 3

    @pytest.mark.parametrize("odd", [float("nan"), float("inf"), 1e300, True, "warm", [], {}])
    def test_no_number_is_left_out(self, odd: Any) -> None:
        rows = hours(6)
        rows[1]["temperature"] = odd if odd != [] else None
        found = read(body(rows))
        assert found.time_s.size == 5
        assert np.isfinite(found.temperature_k).all()

    def test_a_lone_value_that_cannot_be_is_left_out(self) -> None:
        rows = hours(6)
        rows[1]["temperature"] = -999.0
        rows[2]["humidity"] = 140.0
        assert read(body(rows)).time_s.size == 4

    def test_fog_is_a_hundred_per_cent(self) -> None:
        assert read(body([{**r, "humidity": 103} for r in hours()])).humidity.max() == 1.0


class TestRefused:
    @pytest.mark.parametrize("sent", [b"", b"<html>", b"{", b"\xff\xfe", b"[" * 100_000])
    def test_not_json(self, sent: bytes) -> None:
        assert refused(sent).code == "outdoor_not_json"

    @pytest.mark.parametrize("sent", [b"{}", b"[]", b"3", b"null", b'{"hours": []}', b'{"hours": [{}]}'])
    def test_nothing_there(self, sent: bytes) -> None:
        problem = refused(sent)
        assert problem.code == "outdoor_nothing_there"
        assert "hours.at" in problem.message
        assert problem.field == "times"

    def test_a_path_to_another_number_of_values(self) -> None:
        problem = refused(body(extra=[1, 2]), temperature="extra")
        assert (problem.code, problem.field) == ("outdoor_lengths", "temperature")
        assert "2 values at “extra” and 49 times" in problem.message

    @pytest.mark.parametrize(
        ("said", "field"),
        [
            ({"temperature_unit": "K"}, "temperature_unit"),
            ({"humidity_unit": ""}, "humidity_unit"),
            ({"temperature_unit": "m/s"}, "temperature_unit"),
            ({"temperature_unit": "warmth"}, "temperature_unit"),
            ({"dew_point": "hours.temperature", "dew_point_unit": "K"}, "dew_point_unit"),
        ],
    )
    def test_a_wrong_unit(self, said: dict[str, str], field: str) -> None:
        assert refused(body(), **said).field == field

    def test_kelvins_taken_for_degrees(self) -> None:
        rows = [{**r, "temperature": 278.0} for r in hours()]
        assert refused(body(rows)).code == "outdoor_unit"

    def test_a_share_taken_for_per_cent(self) -> None:
        rows = [{**r, "humidity": 0.8} for r in hours()]
        assert refused(body(rows)).field == "humidity_unit"

    def test_nothing_ahead(self) -> None:
        problem = refused(body(hours(5, NOW - 30 * HOUR)))
        assert problem.code == "outdoor_nothing_ahead"
        assert "it ends 2026-02-28 12:20 (UTC)" in problem.message

    def test_hours_of_nothing_but_gaps(self) -> None:
        rows = [
            {**r, "temperature": None if i % 2 else 4.0, "humidity": 80 if i % 2 else None}
            for i, r in enumerate(hours())
        ]
        assert "no hour with both" in refused(body(rows)).message

    def test_too_many(self) -> None:
        rows = [{"at": i, "temperature": 1, "humidity": 1} for i in range(MOST_HOURS + 1)]
        assert refused(body(rows)).code == "outdoor_too_many"

    def test_times_that_are_none(self) -> None:
        assert refused(body([{**r, "at": "soon"} for r in hours()])).code == "outdoor_no_times"


class TestDescription:
    def test_address_and_topic_exclude_each_other(self) -> None:
        with pytest.raises(BadInput, match="not both"):
            check(outdoor(topic="weather/forecast"))

    @pytest.mark.parametrize(
        "url",
        [
            "http://[abc/",
            "http://a]b/",
            "https://exam\u2100ple.com/",
            "http://:80/",
            "http://a:99999/",
            "ftp://a/b",
            "a:80/b",
            "http://a b/",
        ],
    )
    def test_an_address_that_is_none(self, url: str) -> None:
        with pytest.raises(BadInput, match="is no address") as problem:
            check(outdoor(url=url))
        assert problem.value.field == "url"

    def test_one_of_humidity_and_dew_point_is_needed(self) -> None:
        with pytest.raises(BadInput, match="Neither humidity nor dew point"):
            check(outdoor(humidity=""))
        check(outdoor(humidity="", dew_point="hours.dew"))


VALUE = st.one_of(
    st.none(),
    st.booleans(),
    st.floats(),
    st.integers(-(10**20), 10**20),
    st.text(max_size=8),
    st.just("2026-03-01T15:00Z"),
)


@settings(deadline=None)
@given(st.lists(st.fixed_dictionaries({"at": VALUE, "temperature": VALUE, "humidity": VALUE}), max_size=8))
def test_whatever_comes_is_read_or_refused(rows: list[dict[str, Any]]) -> None:
    refused: list[str] = []
    try:
        found = read(json.dumps({"hours": rows}).encode())
    except BadInput as problem:
        refused.append(problem.message)
    if refused:
        assert all(refused)
        return
    assert (np.diff(found.time_s) > 0).all()
    assert ((found.humidity >= 0.02) & (found.humidity <= 1.0)).all()
    assert ((found.temperature_k >= 213.15) & (found.temperature_k <= 333.15)).all()
    assert found.time_s[-1] <= (NOW + timedelta(days=16)).timestamp()
