"""The worker, and the part of the page Messages that switches browsers on."""

from __future__ import annotations

from fastapi.testclient import TestClient

from api.asked import HAND_COOKIE
from api.fakes import FakeShop
from api.settings import ApiSettings
from service.alerts.push.views import Lost, Subscription
from service.voice import Language, Voice
from tests.api.conftest import client_of
from tests.api.scene import plain


def keep(shop: FakeShop, device: str = "phone", person: str = "bench 1") -> None:
    shop.push.keep(Subscription(f"https://push.example.org/{device}", "p", "a"), person, device)


class TestWorker:
    def test_it_may_serve_the_whole_shop(self, client: TestClient) -> None:
        answer = client.get("/sw.js")
        assert answer.headers["service-worker-allowed"] == "/"
        assert answer.headers["content-type"].startswith("text/javascript")
        assert answer.headers["cache-control"] == "no-cache"
        assert "default-src 'self'" in answer.headers["content-security-policy"]

    def test_a_browser_can_renew_it_with_nobody_at_the_page(self, shop: FakeShop) -> None:
        settings = ApiSettings(host="0.0.0.0", shop_key="reeds and mud")
        locked = client_of(shop, settings, "http://shellroom.local:8321")
        assert locked.get("/sw.js").status_code == 200
        assert locked.get("/messages").status_code == 401

    def test_its_words_stand_before_it(self, client: TestClient) -> None:
        first = client.get("/sw.js").text.splitlines()[0]
        assert first.startswith("const WORDS = {")
        assert '"onMyWay": "On my way"' in first

    def test_they_are_those_of_whoever_holds_the_phone(self, client: TestClient, shop: FakeShop) -> None:
        shop.choose_voice("bench 1", Voice(Language.SPANISH))
        client.cookies[HAND_COOKIE] = "bench 1"
        assert client.get("/sw.js").status_code == 200

    def test_whether_coatbell_can_be_reached_is_asked_of_it(self, client: TestClient) -> None:
        assert client.head("/sw.js").status_code == 200


class TestPage:
    def test_the_switch_with_everybody_who_can_be_rung(self, client: TestClient) -> None:
        page = client.get("/messages").text
        assert "Ring this phone too" in page
        assert "<option>bench 1</option><option>bench 2</option>" in page
        assert f'data-key="{client.get("/api/push").json()["public_key"]}"' in page

    def test_without_a_contact_it_says_what_to_set(self, client: TestClient, shop: FakeShop) -> None:
        shop.push.why_off = "Set it in alerts.toml."
        page = client.get("/messages").text
        assert "Set it in alerts.toml." in page
        assert 'id="ring-on"' not in page

    def test_without_people_there_is_nobody_to_ring(self, client: TestClient, shop: FakeShop) -> None:
        shop.push.people = ()
        page = client.get("/messages").text
        assert "set yourself up as one first" in page
        assert 'id="ring-on"' not in page

    def test_the_browsers_that_are_rung(self, client: TestClient, shop: FakeShop) -> None:
        keep(shop, "phone")
        keep(shop, "<b>tablet</b>", "bench 9")
        page = client.get("/messages").text
        assert "phone of bench 1" in plain(page)
        assert "&lt;b&gt;tablet&lt;/b&gt;" in page
        assert "of bench 9 , this one , who is not told anything any more: it is not rung" in plain(page)
        assert page.count('data-do="forget"') == 2
        assert "push.example.org" not in page

    def test_one_that_was_lost(self, client: TestClient, shop: FakeShop) -> None:
        shop.push.lost.append(Lost("bench 1", "old phone", shop.clock.now()))
        assert "“old phone” of bench 1 is not rung any more since 14:20" in plain(
            client.get("/messages").text
        )
