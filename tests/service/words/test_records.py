"""How whole the records are, said in sentences."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from service.room.views import LedgerEnd
from service.words import back_up_line, whole_line

NOW = datetime(2026, 3, 2, 14, 20, tzinfo=UTC)
END = LedgerEnd(36, "4f" * 32, "9c" * 32, NOW - timedelta(hours=10), None, NOW - timedelta(hours=9))


def test_a_whole_chain() -> None:
    assert whole_line(END, None, NOW) == "Looked over 04:20 UTC: the chain of entries is unbroken."


def test_a_broken_one_names_the_first_entry_that_does_not_fit() -> None:
    line = whole_line(replace(END, broken_at=17), None, NOW)
    assert (
        line == "Looked over 04:20 UTC: the chain of entries breaks at entry 17. What came before it holds."
    )


def test_before_the_first_night_nothing_is_claimed() -> None:
    fresh = LedgerEnd(0, "", "")
    assert "not been looked over yet" in whole_line(fresh, None, NOW)
    assert back_up_line(fresh, None, NOW) == "No nightly copy has been made yet."


def test_the_last_copy() -> None:
    assert back_up_line(END, None, NOW) == "Last nightly copy: 05:20 UTC."
