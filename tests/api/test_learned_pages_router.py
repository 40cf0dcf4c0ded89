"""The page of what this shop taught, and learning anew."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient
from markupsafe import escape

from api.fakes import FakeShop
from service.records.facts import LearnAnewBody
from tests.api.scene import mould, plain

ANEW = {
    "effect": "draught",
    "of": "1/3",
    "text": "the fan was moved",
    "hand": "bench 2",
    "key": "anew-key-001",
}


class TestPage:
    def test_is_found_from_set_up_and_from_a_mould(self, client: TestClient, shop: FakeShop) -> None:
        assert 'href="/learned"' in client.get("/set-up").text
        assert "4 things in which it differs from the tables" in plain(client.get("/set-up").text)
        assert 'href="/learned"' in client.get(f"/mould/{mould(shop, 'Heron').id}").text

    def test_each_thing_as_a_founder_would_say_it(self, client: TestClient) -> None:
        text = plain(client.get("/learned").text)
        assert (
            "Hook 3 in Shell room: water leaves 1.6 times as fast as the tables say (between 1.3 and 2.0)."
            in text
        )
        assert "From 12 weighings and 5 touches on 4 moulds, the newest yesterday." in text
        assert "At first we only knew 0.66 to 1.5. Learned anew since 2 Dec 14:20." in text
        assert "The whole shop: how well air in hollows moves. Nothing was heard of it yet." in text
        assert "what was heard 180 days ago counts half" in text

    def test_leads_to_the_moulds_it_rests_on(self, client: TestClient, shop: FakeShop) -> None:
        page = client.get("/learned").text
        for number in (3, 7, 11, 12):
            assert f'<a href="/mould/{number}">{escape(shop.mould(number).name)}</a>' in page

    def test_where_nothing_was_learned_it_says_what_to_do(self, client: TestClient, shop: FakeShop) -> None:
        shop.effects = []
        page = client.get("/learned").text
        assert "Nothing yet. All hours are reckoned from the tables" in plain(page)
        assert "Weigh a mould after a dip, and once or twice more while it dries." in plain(page)
        assert "Learn everything anew" not in page
        assert "<svg" not in page.partition("<main")[2]
        assert "Nothing yet: all numbers are from the tables" in plain(client.get("/set-up").text)

    def test_what_is_drawn_is_explained(self, client: TestClient) -> None:
        page = client.get("/learned").text
        assert page.count('class="range"') == 4
        assert "Dashed: what we knew at first." in plain(page)


class TestAnew:
    def test_one_thing_with_who_and_why(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.post("/learned/anew", data=ANEW)
        (fact,) = shop.learned_anew()
        assert (answer.status_code, answer.headers["location"]) == (303, f"/learned?did={fact.number}")
        assert fact.body == LearnAnewBody(effect="draught", of="1/3", text="the fan was moved")
        assert fact.hand == "bench 2"
        text = plain(client.get(answer.headers["location"]).text)
        line = "To be learned anew: how fast water leaves (Hook 3 in Shell room): the fan was moved"
        assert f"Recorded. {line}, 14:20, bench 2" in text
        assert f"14:20, bench 2 {line}" in text
        assert shop.mould(1)  # nothing of a mould was touched

    def test_a_second_tap_records_nothing(self, client: TestClient, shop: FakeShop) -> None:
        for _ in range(2):
            client.post("/learned/anew", data=ANEW)
        assert len(shop.learned_anew()) == 1

    def test_all_of_it(self, client: TestClient, shop: FakeShop) -> None:
        client.post("/learned/anew", data={"effect": "", "of": "", "key": "anew-key-002"})
        assert [fact.body for fact in shop.learned_anew()] == [LearnAnewBody()]
        assert "To be learned anew: all that this shop taught" in plain(client.get("/learned").text)

    def test_taken_back(self, client: TestClient, shop: FakeShop) -> None:
        client.post("/learned/anew", data=ANEW)
        (fact,) = shop.learned_anew()
        answer = client.post(f"/learned/anew/{fact.number}/withdraw", data={"key": "back-key-001"})
        assert (answer.status_code, answer.headers["location"]) == (303, "/learned")
        assert shop.learned_anew() == []
        assert "To be learned anew" not in client.get("/learned").text

    def test_what_was_never_learned_is_refused_in_words(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.post("/learned/anew", data={**ANEW, "of": "9/9"})
        assert answer.status_code == 404
        assert "Nothing was learned of that yet." in plain(answer.text)
        assert shop.learned_anew() == []

    @pytest.mark.parametrize("number", [1, 999])
    def test_only_such_a_record_is_taken_back_here(
        self, client: TestClient, shop: FakeShop, number: int
    ) -> None:
        before = len(shop.records.all_facts)
        answer = client.post(f"/learned/anew/{number}/withdraw", data={"key": "back-key-001"})
        assert answer.status_code == 404
        assert len(shop.records.all_facts) == before
