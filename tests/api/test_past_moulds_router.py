"""The moulds that left, a page at a time, as a list and as JSON."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.fakes import FakeShop
from service.room.past_moulds import PastMoulds
from tests.api.scene import plain


@pytest.fixture(autouse=True)
def one_that_left(shop: FakeShop) -> None:
    shop.end(1, "dewaxed", "", "bench 1", "left-0001")


@pytest.fixture
def many(shop: FakeShop, monkeypatch: pytest.MonkeyPatch) -> FakeShop:
    """Three pages of them."""
    row = shop.past_moulds().rows[0]

    def past(page: int = 1, search: str = "") -> PastMoulds:
        if search == "nobody":
            return PastMoulds((), 0, 1, 1, search)
        rows = tuple(replace(row, id=100 * page + n, name=f"Knot {page}.{n}") for n in range(3))
        return PastMoulds(rows, 9, page, 3, search)

    monkeypatch.setattr(shop, "past_moulds", past)
    return shop


def test_in_short(client: TestClient, shop: FakeShop) -> None:
    told = client.get("/api/past-moulds").json()
    ended = shop.ended_moulds()
    assert [row["id"] for row in told["rows"]] == [m.id for m in ended]
    assert told["rows"][0]["outcome"] == ended[0].outcome
    assert (told["total"], told["page"], told["pages"]) == (len(ended), 1, 1)


def test_searched(client: TestClient) -> None:
    assert client.get("/api/past-moulds", params={"search": "no such"}).json()["rows"] == []


@pytest.mark.parametrize("asked", [{"page": 0}, {"page": "x"}, {"search": "x" * 201}])
def test_what_cannot_be_asked(client: TestClient, asked: dict[str, Any]) -> None:
    for path in ("/api/past-moulds", "/api/moulds"):
        answer = client.get(path, params=asked)
        assert answer.status_code == 422
        assert answer.json()["error"]["message"]


def test_the_page_leafs_on_and_back(many: FakeShop, client: TestClient) -> None:
    page = client.get("/moulds?page=2&search=knot").text
    text = plain(page)
    assert "Page 2 of 3, 9 in all." in text
    assert "Knot 2.0" in text
    assert 'href="/moulds?page=1&amp;search=knot"' in page
    assert 'href="/moulds?page=3&amp;search=knot"' in page
    assert 'value="knot"' in page


def test_the_ends_lead_nowhere(many: FakeShop, client: TestClient) -> None:
    first, last = (client.get(f"/moulds?page={page}").text for page in (1, 3))
    assert "Newer" not in first
    assert "Older" in first
    assert "Older" not in last


def test_nothing_found_says_so_and_leads_back(many: FakeShop, client: TestClient) -> None:
    page = client.get("/moulds?search=nobody").text
    assert "None of them holds “nobody”." in plain(page)
    assert 'href="/moulds"' in page


def test_a_page_that_is_no_number_is_told(client: TestClient) -> None:
    assert client.get("/moulds?page=x").status_code == 422
