"""What is asked for, and how a day or a mould is told."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from service.errors import BadInput
from service.papers.asked import Asked, day, mould_called
from tests.service.papers.paper_shop import SALTMARSH
from tests.service.room.cases import refused

NAMES = [(1, "Heron"), (2, "Curlew on post"), (3, "Heron"), (4, "12"), (12, "Dunlin")]


class TestDays:
    @pytest.mark.parametrize(
        ("text", "found"), [("2026-03-02", date(2026, 3, 2)), ("", None), (None, None), (" ", None)]
    )
    def test_are_read(self, text: str | None, found: date | None) -> None:
        assert day(text, "since") == found

    @pytest.mark.parametrize(
        "text", ["2.3.2026", "2026-02-30", "yesterday", "1969-12-31", "3000-01-01", "9999-12-31"]
    )
    def test_others_are_refused_with_their_field(self, text: str) -> None:
        with refused("not_a_day") as told:
            day(text, "until")
        assert told.value.field == "until"

    def test_bounds_are_the_shops_midnights(self) -> None:
        summer = Asked(since=date(2026, 7, 1), until=date(2026, 7, 1))
        assert summer.begins(SALTMARSH) == datetime(2026, 6, 30, 23, tzinfo=UTC)
        assert summer.ends(SALTMARSH) == datetime(2026, 7, 1, 23, tzinfo=UTC)

    def test_a_day_when_the_clocks_change_has_its_own_length(self) -> None:
        autumn = Asked(since=date(2026, 10, 25), until=date(2026, 10, 25))
        begins, ends = autumn.begins(SALTMARSH), autumn.ends(SALTMARSH)
        assert begins is not None
        assert ends is not None
        assert (ends - begins).total_seconds() == 25 * 3600

    def test_the_wrong_way_round_is_refused_the_same_day_is_not(self) -> None:
        Asked(since=date(2026, 3, 2), until=date(2026, 3, 2)).check()
        with pytest.raises(BadInput, match="comes before"):
            Asked(since=date(2026, 3, 2), until=date(2026, 3, 1)).check()


def test_whole_is_what_is_not_bounded() -> None:
    assert Asked().whole
    assert Asked(readings=True).whole
    for part in (Asked(mould_id=1), Asked(since=date(2026, 1, 1)), Asked(until=date(2026, 1, 1))):
        assert not part.whole


class TestMoulds:
    @pytest.mark.parametrize(
        ("text", "number"), [("2", 2), ("curlew ON post", 2), (" Dunlin ", 12), ("12", 4), ("3", 3)]
    )
    def test_by_name_before_number(self, text: str, number: int) -> None:
        assert mould_called(text, NAMES) == number

    @pytest.mark.parametrize("text", ["99", "Avocet", "²", "-1"])
    def test_unknown(self, text: str) -> None:
        with refused("mould_unknown"):
            mould_called(text, NAMES)

    def test_a_shared_name_asks_for_the_number(self) -> None:
        with refused("mould_name_shared") as told:
            mould_called("heron", NAMES)
        assert "1, 3" in told.value.todo
