"""What a status says about a message, and `Retry-After` in both its forms."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from service.alerts.notifiers.http_answers import judge, retry_after_s
from service.records.outbox import Outcome

NOW = datetime(1994, 11, 6, 8, 49, 7, tzinfo=UTC)
HALF_A_MINUTE_ON = (
    # the three formats of one instant, RFC 9110 section 5.6.7
    "Sun, 06 Nov 1994 08:49:37 GMT",
    "Sunday, 06-Nov-94 08:49:37 GMT",
    "Sun Nov  6 08:49:37 1994",
)


@pytest.mark.parametrize("status", [200, 201, 202, 204, 299])
def test_taken(status: int) -> None:
    assert judge(status).taken


@pytest.mark.parametrize("status", [400, 401, 403, 404, 405, 410])
def test_refused(status: int) -> None:
    answer = judge(status)
    assert answer.outcome is Outcome.REFUSED
    assert answer.gone == (status == 410)


@pytest.mark.parametrize("status", [408, 425, 429, 503])
def test_later(status: int) -> None:
    assert judge(status, 7.0).outcome is Outcome.LATER
    assert judge(status, 7.0).retry_after_s == 7.0


@pytest.mark.parametrize("status", [100, 199, 300, 301, 302, 308, 402, 406, 418, 500, 502, 504, 599])
def test_anything_else_may_have_arrived(status: int) -> None:
    assert judge(status).outcome is Outcome.UNCLEAR


def test_words() -> None:
    assert judge(404).words == "answered 404 (Not Found)"
    assert judge(599).words == "answered 599"


@pytest.mark.parametrize("text", HALF_A_MINUTE_ON)
def test_a_date_in_each_of_its_formats(text: str) -> None:
    assert retry_after_s(text, None, NOW) == 30.0


@pytest.mark.parametrize(("text", "seconds"), [("120", 120.0), ("0", 0.0), (" 7 ", 7.0), ("007", 7.0)])
def test_seconds(text: str, seconds: float) -> None:
    assert retry_after_s(text, None, NOW) == seconds


def test_the_other_sides_clock_counts_for_its_own_date() -> None:
    ours_is_wrong = datetime(2026, 3, 2, tzinfo=UTC)
    assert retry_after_s(HALF_A_MINUTE_ON[0], "Sun, 06 Nov 1994 08:49:17 GMT", ours_is_wrong) == 20.0


def test_what_is_past_may_be_tried_at_once() -> None:
    assert retry_after_s(HALF_A_MINUTE_ON[0], None, datetime(1995, 1, 1, tzinfo=UTC)) == 0.0


def test_a_number_of_any_length_is_a_long_time() -> None:
    assert retry_after_s("9" * 6000, None, NOW) == 1e9


@pytest.mark.parametrize(
    "text", [None, "", "soon", "-5", "1.5", "+3", "٣", "1e3", "Sun, 99 Nov 1994 08:49:37 GMT", "Sun, 06"]
)
def test_what_cannot_be_read_asks_for_nothing(text: str | None) -> None:
    assert retry_after_s(text, None, NOW) is None
