"""The calendar as a phone fetches it, and its address as the pages tell it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from api.calendar_router import calendar_out, has_it_already
from api.fakes import FakeShop
from api.settings import ApiSettings
from service.calendar.feed import CalendarFeed, Feed
from service.calendar.key import KEY_FILE, KeyFile
from service.clock import FakeClock
from tests.api.conftest import client_of
from tests.api.scene import plain
from tests.parts import need

vobject = need("vobject")
KEY = {"idempotency-key": "calendar-0001"}


def path_of(shop: FakeShop) -> str:
    return "/" + shop.calendar.address().split("/", 3)[3]


class TestFetch:
    def test_a_phone_gets_it(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.get(path_of(shop))
        assert answer.status_code == 200
        assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
        assert answer.headers["cache-control"] == "private, max-age=300"
        found = vobject.readOne(answer.text).contents["vevent"]
        due = [m for m in shop.board().moulds if m.due_at and m.last_dip_at]
        assert len(found) == len(due) > 3

    def test_before_anything_is_set_up_it_is_a_calendar_all_the_same(
        self, newcomer: TestClient, empty: FakeShop
    ) -> None:
        answer = newcomer.get(path_of(empty))
        assert answer.status_code == 200
        assert "vevent" not in vobject.readOne(answer.text).contents

    def test_without_the_shop_key(self, shop: FakeShop) -> None:
        """A phone's calendar cannot send one: the address is the key."""
        client = client_of(shop, ApiSettings(host="0.0.0.0", shop_key="wet gloves"))
        assert client.get(path_of(shop)).status_code == 200
        assert client.get("/api/calendar").status_code == 401
        assert client.get("/records").status_code == 401
        assert client.post("/records/calendar").status_code == 401

    def test_only_asked_for_its_head(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.head(path_of(shop))
        assert (answer.status_code, answer.headers["etag"]) == (
            200,
            client.get(path_of(shop)).headers["etag"],
        )

    def test_nothing_can_be_written_there(self, client: TestClient, shop: FakeShop) -> None:
        assert client.put(path_of(shop), content=b"BEGIN:VCALENDAR").status_code == 405

    @pytest.mark.parametrize("wrong", ["x", "x" * 43, "%C3%9C", "..%2f..%2fetc"])
    def test_a_wrong_address_is_not_found(self, client: TestClient, wrong: str) -> None:
        answer = client.get(f"/calendar/{wrong}.ics")
        assert answer.status_code == 404

    def test_an_old_address_says_what_to_do(self, client: TestClient, shop: FakeShop) -> None:
        old = path_of(shop)
        shop.calendar.renew()
        answer = client.get(old)
        assert answer.status_code == 404
        assert "subscribe anew" in plain(answer.text)

    def test_guesses_are_counted_and_end_without_locking_the_pages(self, shop: FakeShop) -> None:
        client = client_of(shop, ApiSettings(host="0.0.0.0", shop_key="wet gloves"))
        for n in range(20):
            assert client.get(f"/calendar/guess-{n}.ics").status_code == 404
        assert client.get("/calendar/guess-20.ics").status_code == 429
        assert client.get(path_of(shop)).status_code == 200, "nor anybody who has the right address"
        assert client.post("/key", data={"shop_key": "wet gloves", "to": "/"}).status_code == 303

    def test_a_spoilt_key_is_told(self, shop: FakeShop, tmp_path: Path) -> None:
        (tmp_path / KEY_FILE).write_text("wet gloves")
        shop.calendar = CalendarFeed(KeyFile(tmp_path), "http://shed", shop.board, shop.clock.now)
        client = client_of(shop)
        assert client.get("/calendar/x.ics").status_code == 503
        page = client.get("/records")
        assert page.status_code == 200
        assert "is damaged" in plain(page.text)
        client.post("/records/calendar")
        assert "Subscribe on this phone" in client.get("/records").text


class TestAgain:
    def test_one_who_has_it_gets_304(self, client: TestClient, shop: FakeShop) -> None:
        first = client.get(path_of(shop))
        for header, value in (
            ("if-none-match", first.headers["etag"]),
            ("if-modified-since", first.headers["last-modified"]),
        ):
            again = client.get(path_of(shop), headers={header: value})
            assert (again.status_code, again.content) == (304, b"")
            assert again.headers["etag"] == first.headers["etag"]

    def test_after_a_dip_it_is_sent_anew(self, client: TestClient, shop: FakeShop, clock: FakeClock) -> None:
        first = client.get(path_of(shop))
        clock.advance(60)
        mould = next(m for m in shop.board().moulds if m.next_coat and m.last_dip_at)
        shop.dip(mould.id, "grey", None, "bench 1", "calendar-dip-1", early_reason="to see the calendar")
        again = client.get(path_of(shop), headers={"if-none-match": first.headers["etag"]})
        assert again.status_code == 200
        later = client.get(path_of(shop), headers={"if-modified-since": first.headers["last-modified"]})
        assert later.status_code == 200

    def test_the_date_is_as_http_has_it(self, client: TestClient, shop: FakeShop) -> None:
        """RFC 9110, 5.6.7."""
        assert client.get(path_of(shop)).headers["last-modified"] == "Thu, 11 Dec 2025 14:20:00 GMT"


class TestHasItAlready:
    feed = Feed(b"", "abc", datetime(2026, 3, 2, 14, 20, tzinfo=UTC))

    @pytest.mark.parametrize(
        ("none_match", "modified_since", "has"),
        [
            (None, None, False),
            ('"abc"', None, True),
            ('W/"abc"', None, True),
            ('"x", "abc"', None, True),
            ("*", None, True),
            ('"abcd"', None, False),
            ("abc", None, False),
            (None, "Mon, 02 Mar 2026 14:20:00 GMT", True),
            (None, "Mon, 02 Mar 2026 14:19:59 GMT", False),
            (None, "Mon, 02 Mar 2026 14:20:01 GMT", True),
            (None, "yesterday", False),
            (None, "Mon, 1 Jan 99999999999999999999 00:00:00 GMT", False),
            (None, "", False),
            ('"x"', "Mon, 02 Mar 2026 14:20:00 GMT", False),  # the tags count alone
        ],
    )
    def test_at_the_borders(self, none_match: str | None, modified_since: str | None, has: bool) -> None:
        assert has_it_already(none_match, modified_since, self.feed) is has


class TestAddress:
    def test_programs_are_told(self, client: TestClient, shop: FakeShop) -> None:
        told = client.get("/api/calendar").json()
        assert told["address"] == shop.calendar.address()
        assert told["webcal"] == told["address"].replace("http://", "webcal://")

    def test_a_new_one_once_for_a_key(self, client: TestClient, shop: FakeShop) -> None:
        old = path_of(shop)
        first, second = (client.post("/api/calendar", headers=KEY).json() for _ in range(2))
        assert first == second == client.get("/api/calendar").json()
        assert client.get(old).status_code == 404

    def test_behind_https(self) -> None:
        assert (
            calendar_out("https://bell.example/calendar/x.ics").webcal
            == "webcal://bell.example/calendar/x.ics"
        )


class TestPage:
    def test_how_to_subscribe(self, client: TestClient, shop: FakeShop) -> None:
        page = client.get("/records").text
        assert f"<code>{shop.calendar.address()}</code>" in page
        assert 'href="webcal://' in page
        assert "it never rings" in plain(page)
        assert "Only this machine can reach coatbell" in plain(page)

    def test_where_phones_are_let_in_already(self, shop: FakeShop) -> None:
        client = client_of(shop, ApiSettings(host="0.0.0.0", shop_key="wet gloves"))
        page = client.get("/records", headers={"authorization": "Bearer wet gloves"}).text
        assert "Only this machine" not in page

    def test_a_new_address(self, client: TestClient, shop: FakeShop) -> None:
        old = shop.calendar.address()
        for _ in range(2):
            answer = client.post("/records/calendar", data={"key": "new-address-1"})
            assert (answer.status_code, answer.headers["location"]) == (303, "/records#calendar")
        page = client.get("/records").text
        assert old not in page
        assert shop.calendar.address() in page

    def test_no_page_elsewhere_can_press_the_button(self, client: TestClient, shop: FakeShop) -> None:
        old = shop.calendar.address()
        answer = client.post("/records/calendar", headers={"sec-fetch-site": "cross-site"})
        assert answer.status_code == 403
        assert shop.calendar.address() == old
