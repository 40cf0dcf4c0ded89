"""Who may come in, from where, with how much."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from api.doors import COOKIE, LARGEST_BODY, LARGEST_PHOTO, LARGEST_PHOTOS, Guesses, Lock
from api.fakes import FakeShop
from api.settings import ApiSettings
from service.alerts.reply_links import LinkOver, LinkUnknown, unknown
from service.errors import ShopError
from tests.api.conftest import client_of

KEY = "reeds and mud"
OPEN = ApiSettings(host="0.0.0.0", shop_key=KEY)
NOTE = {"text": "slurry dabbed on", "key": "note-key-0001"}


@pytest.fixture
def locked(shop: FakeShop) -> TestClient:
    return client_of(shop, OPEN, "http://shellroom.local:8321")


class TestHost:
    @pytest.mark.parametrize("host", ["127.0.0.1:8321", "localhost", "localhost:9999", "[::1]:8321"])
    def test_names_of_this_machine_are_taken(self, client: TestClient, host: str) -> None:
        assert client.get("/api/health", headers={"host": host}).status_code == 200

    @pytest.mark.parametrize(
        "host",
        ["evil.example", "127.0.0.1.evil.example", "", "localhost.evil.example:8321", "[", "[::1", "é"],
    )
    def test_a_strange_name_is_refused(self, client: TestClient, host: str) -> None:
        answer = client.get("/api/health", headers={b"host": host.encode()})
        assert answer.status_code == 403
        assert answer.json()["error"]["code"] == "strange_host"

    def test_a_name_of_the_shops_own_is_taken(self, shop: FakeShop) -> None:
        named = client_of(shop, ApiSettings(names=("bronze.example",)), "http://bronze.example")
        assert named.get("/api/health").status_code == 200

    def test_off_the_machine_the_key_guards_whatever_the_name(self, locked: TestClient) -> None:
        answer = locked.get("/api/health", headers={"host": "anything.example"})
        assert answer.json()["error"]["code"] == "key_needed"


class TestOrigin:
    @pytest.mark.parametrize(
        "headers",
        [
            {"sec-fetch-site": "cross-site"},
            {"sec-fetch-site": "same-site"},
            {"origin": "http://evil.example"},
            {"origin": "null"},
            {"origin": "http://["},
            {"origin": "http://127.0.0.1:9999"},
            {"sec-fetch-site": "cross-site", "origin": "http://127.0.0.1:8321"},
        ],
    )
    def test_a_write_from_a_page_elsewhere_is_refused(
        self, shop: FakeShop, client: TestClient, headers: dict[str, str]
    ) -> None:
        before = len(shop.records.all_facts)
        answer = client.post("/mould/1/note", data=NOTE, headers=headers)
        assert answer.status_code == 403
        assert "not coatbell&#39;s" in answer.text
        assert len(shop.records.all_facts) == before

    @pytest.mark.parametrize(
        "headers",
        [
            {},
            {"sec-fetch-site": "same-origin"},
            {"sec-fetch-site": "none"},
            {"origin": "http://127.0.0.1:8321"},
        ],
    )
    def test_our_own_pages_and_programs_may_write(self, client: TestClient, headers: dict[str, str]) -> None:
        assert client.post("/mould/1/note", data=NOTE, headers=headers).status_code == 303

    def test_reading_across_is_no_write(self, client: TestClient) -> None:
        assert client.get("/mould/1", headers={"sec-fetch-site": "cross-site"}).status_code == 200


class TestSize:
    def test_a_quarter_megabyte_is_the_most(self, client: TestClient) -> None:
        answer = client.post("/api/recipes", content=b"x" * (256 * 1024 + 1))
        assert answer.status_code == 413
        assert answer.json()["error"]["code"] == "too_large"

    def test_at_the_border_it_is_read(self, client: TestClient) -> None:
        answer = client.post(
            "/api/recipes", content=b" " * (256 * 1024), headers={"content-type": "application/json"}
        )
        assert answer.status_code == 422

    def test_a_length_must_be_said(self, client: TestClient) -> None:
        answer = client.post("/api/recipes", content=iter([b"{}"]))
        assert answer.status_code == 413

    def test_whoever_has_no_key_is_asked_for_it_whatever_was_sent(self, locked: TestClient) -> None:
        for path in ("/api/recipes", "/api/moulds/1/photos"):
            assert locked.post(path, content=b"x" * (256 * 1024 + 1)).status_code == 401

    def test_where_the_key_is_asked_for_no_more_is_taken_either(self, locked: TestClient) -> None:
        assert locked.post("/key", content=b"x" * (256 * 1024 + 1)).status_code == 413

    @pytest.mark.parametrize(
        ("path", "most"),
        [
            ("/mould/1/photos", LARGEST_PHOTOS),
            ("/mould/1/result", LARGEST_PHOTOS),
            ("/api/moulds/1/photos", LARGEST_PHOTO),
            ("/mould/1/note", LARGEST_BODY),
            ("/mould/1/photos/x", LARGEST_BODY),
        ],
    )
    def test_only_photos_are_large(self, client: TestClient, path: str, most: int) -> None:
        headers = {"content-type": "text/plain"}
        for length, told in ((most, False), (most + 1, True)):
            answer = client.post(path, content=b"", headers={**headers, "content-length": str(length)})
            assert (answer.status_code == 413) is told


class TestKey:
    def test_a_program_without_it_is_told_so(self, locked: TestClient) -> None:
        answer = locked.get("/api/board")
        assert answer.status_code == 401
        assert answer.headers["www-authenticate"] == "Bearer"
        assert answer.json()["error"]["code"] == "key_needed"

    def test_a_program_with_it_comes_in(self, locked: TestClient) -> None:
        assert locked.get("/api/board", headers={"authorization": f"Bearer {KEY}"}).status_code == 200
        assert locked.get("/api/board", headers={"authorization": f"bearer  {KEY} "}).status_code == 200

    @pytest.mark.parametrize("said", ["Bearer wrong", f"Basic {KEY}", KEY, "Bearer", "Bearer réeds"])
    def test_anything_else_does_not_open(self, locked: TestClient, said: str) -> None:
        assert locked.get("/api/board", headers={b"authorization": said.encode()}).status_code == 401

    def test_only_signed_links_styles_and_the_question_for_the_key_come_without_it(
        self, locked: TestClient
    ) -> None:
        assert locked.get("/r/x").status_code == 404  # asked for, and none of ours
        assert locked.get("/static/reply.js").status_code == 200
        for shut in ("/r", "/recipes", "/records", "/reply", "/mould/1", "//r/x", "/R/x"):
            assert locked.get(shut).status_code == 401, shut

    def test_what_a_link_leads_to_is_small_and_ours(self, locked: TestClient) -> None:
        assert locked.post("/r/x", content=b"x" * (256 * 1024 + 1)).status_code == 413
        assert locked.post("/r/x", headers={"sec-fetch-site": "cross-site"}).status_code == 403

    def test_a_key_set_on_this_machine_is_asked_for_too(self, shop: FakeShop) -> None:
        assert client_of(shop, ApiSettings(shop_key=KEY)).get("/api/board").status_code == 401

    @pytest.mark.parametrize("path", ["/", "/mould/1", "/live", "/air", "/api/docs"])
    def test_a_person_is_asked_for_it(self, locked: TestClient, path: str) -> None:
        answer = locked.get(path)
        assert answer.status_code == 401
        assert 'name="shop_key"' in answer.text
        assert f'name="to" value="{path}"' in answer.text

    def test_nothing_of_the_shop_stands_on_that_page(self, locked: TestClient) -> None:
        assert "Saltmarsh" not in locked.get("/").text

    def test_style_sheets_need_none(self, locked: TestClient) -> None:
        assert locked.get("/static/coatbell.css").status_code == 200

    def test_the_static_folder_leads_nowhere_else(self, locked: TestClient) -> None:
        for path in ("/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py"):
            assert locked.get(path).status_code in (401, 404)

    def test_a_link_from_elsewhere_loads_itself_once_more_for_its_cookie(self, locked: TestClient) -> None:
        assert 'http-equiv="refresh"' in locked.get("/mould/1", headers={"sec-fetch-site": "cross-site"}).text
        assert (
            'http-equiv="refresh"'
            not in locked.get("/mould/1", headers={"sec-fetch-site": "same-origin"}).text
        )

    def test_the_cookie_of_another_key_does_not_open(self, locked: TestClient) -> None:
        locked.cookies.set(COOKIE, Lock("another phrase").cookie)
        assert locked.get("/api/board").status_code == 401

    def test_the_cookie_does_not_hold_the_key(self) -> None:
        assert KEY not in Lock(KEY).cookie

    def test_an_open_shop_has_no_cookie_that_opens_another(self) -> None:
        assert Lock(None).cookie != Lock(KEY).cookie


class TestGuesses:
    def test_after_twenty_wrong_keys_none_is_tried(self) -> None:
        lock = Lock(KEY)
        for _ in range(20):
            assert not lock.fits("wrong key")
        with pytest.raises(ShopError, match="Wait a minute"):
            lock.fits(KEY)

    def test_nineteen_are_borne(self) -> None:
        lock = Lock(KEY)
        for _ in range(19):
            lock.fits("wrong key")
        assert lock.fits(KEY)

    def test_old_ones_are_forgotten(self) -> None:
        guesses = Guesses(most=2, within_s=0.0)
        guesses.wrong()
        guesses.wrong()
        assert not guesses.too_many()

    def test_a_cookie_still_opens_while_somebody_guesses(self, locked: TestClient) -> None:
        for _ in range(25):
            locked.get("/api/board", headers={"authorization": "Bearer guess"})
        assert locked.get("/api/board", headers={"authorization": f"Bearer {KEY}"}).status_code == 429
        locked.cookies.set(COOKIE, Lock(KEY).cookie)
        assert locked.get("/api/board").status_code == 200


class TestHeaders:
    def test_no_page_elsewhere_can_frame_or_script_ours(self, client: TestClient) -> None:
        headers = client.get("/").headers
        assert "frame-ancestors 'none'" in headers["content-security-policy"]
        assert "default-src 'self'" in headers["content-security-policy"]
        assert "unsafe-inline" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"

    def test_pages_are_not_kept_but_style_sheets_are(self, client: TestClient) -> None:
        assert client.get("/").headers["cache-control"] == "no-store"
        assert client.get("/static/coatbell.css").headers["cache-control"] == "max-age=86400"


class TestLinks:
    def test_wrong_ones_are_counted_and_keep_nobody_out_who_has_a_right_one(self) -> None:
        lock = Lock(KEY)

        def wrong() -> None:
            raise unknown()

        for _ in range(20):
            with pytest.raises(LinkUnknown):
                lock.check_link(wrong)
        with pytest.raises(ShopError, match="Wait a minute"):
            lock.check_link(wrong)
        assert lock.check_link(lambda: "here") == "here"
        assert lock.fits(KEY), "wrong links keep nobody out who has the key"

    def test_right_ones_and_those_that_ran_out_are_not(self) -> None:
        lock = Lock(KEY)

        def ran_out() -> None:
            raise LinkOver("link_over", "This link has run out.", "Open the newest message.")

        for _ in range(30):
            assert lock.check_link(lambda: "here") == "here"
            with pytest.raises(LinkOver):
                lock.check_link(ran_out)
