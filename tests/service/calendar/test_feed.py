"""The calendar's address, and what stands there."""

from __future__ import annotations

from pathlib import Path

import pytest

from service.calendar.feed import CalendarFeed, Feed
from service.calendar.key import Key, KeyFile, MemoryKey
from service.clock import FakeClock
from service.room.views import Board
from tests.service.alerts.scene import NOW, board, hours, minutes, mould, ready


class Shop:
    """A board that can be changed, and a clock that stands."""

    def __init__(self, key: Key | None = None) -> None:
        self.board = board(mould())
        self.clock = FakeClock(NOW)
        self.feed = CalendarFeed(key or MemoryKey(), "http://shed:8321", self._board, self.clock.now)

    def _board(self) -> Board:
        return self.board

    @property
    def secret(self) -> str:
        return self.feed.address().rpartition("/")[2].removesuffix(".ics")

    def fetch(self) -> Feed:
        feed = self.feed.fetch(self.secret)
        assert feed is not None
        return feed


@pytest.fixture
def shop() -> Shop:
    return Shop()


def line(feed: Feed, name: str) -> str:
    (found,) = [one for one in feed.body.decode().split("\r\n") if one.startswith(f"{name}:")]
    return found.partition(":")[2]


class TestAddress:
    def test_it_ends_as_calendars_do(self, shop: Shop) -> None:
        assert shop.feed.address().startswith("http://shed:8321/calendar/")
        assert len(shop.secret) == 43

    @pytest.mark.parametrize("wrong", ["", "x", "Ü", "x" * 43, "\x00"])
    def test_another_gives_nothing(self, shop: Shop, wrong: str) -> None:
        assert shop.feed.fetch(wrong) is None

    def test_one_letter_less_or_more_or_other_gives_nothing(self, shop: Shop) -> None:
        right = shop.secret
        for wrong in (right[:-1], f"{right}A", right.swapcase(), f"{right}="):
            assert shop.feed.fetch(wrong) is None

    def test_a_new_one_kills_the_old(self, shop: Shop) -> None:
        old = shop.secret
        assert shop.feed.renew() == shop.feed.address()
        assert shop.secret != old
        assert shop.feed.fetch(old) is None
        assert shop.fetch().body

    def test_it_stays_over_a_restart(self, tmp_path: Path) -> None:
        assert Shop(KeyFile(tmp_path)).secret == Shop(KeyFile(tmp_path)).secret


class TestWhatStandsThere:
    def test_time_alone_changes_nothing(self, shop: Shop) -> None:
        first = shop.fetch()
        shop.clock.advance(3600)
        assert shop.fetch() == first

    def test_a_moved_hour_changes_all_that_phones_go_by(self, shop: Shop) -> None:
        first = shop.fetch()
        shop.clock.advance(600)
        shop.board = board(mould(due_at=NOW + hours(3)))
        second = shop.fetch()
        assert line(second, "UID") == line(first, "UID")
        assert int(line(second, "SEQUENCE")) == int(line(first, "SEQUENCE")) + 600
        assert line(second, "LAST-MODIFIED") == "20260302T143000Z"
        assert line(second, "DTSTART") == "20260302T172000Z"
        assert second.etag != first.etag
        assert second.changed_at == NOW + minutes(10)

    def test_a_dip_that_was_given_is_gone_and_the_next_one_comes(self, shop: Shop) -> None:
        shop.board = board(ready())
        first = shop.fetch()
        shop.board = board(mould(coats=5, last_dip_at=NOW))
        second = shop.fetch()
        assert line(second, "UID") != line(first, "UID")
        assert "coat 6" in second.body.decode()
        assert "coat 5" not in second.body.decode()

    def test_the_last_event_gone_is_a_change_too(self, shop: Shop) -> None:
        first = shop.fetch()
        shop.board = board()
        second = shop.fetch()
        assert b"VEVENT" not in second.body
        assert second.etag != first.etag
        assert second.changed_at > first.changed_at

    def test_after_a_restart_uids_are_the_same_and_numbers_never_smaller(self, shop: Shop) -> None:
        first = shop.fetch()
        again = Shop()
        again.clock.advance(300)
        second = again.fetch()
        assert line(second, "UID") == line(first, "UID")
        assert int(line(second, "SEQUENCE")) > int(line(first, "SEQUENCE"))

    def test_its_name(self, shop: Shop) -> None:
        assert line(shop.fetch(), "NAME") == "Saltmarsh Bronze\\, coming dips"
        shop.board = board(mould(), site=None, demo=True)
        assert line(shop.fetch(), "NAME") == "Demo: coatbell\\, coming dips"
