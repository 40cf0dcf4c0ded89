"""The page that says how whole the records are, and where to take them along."""

from __future__ import annotations

from fastapi.testclient import TestClient

from api.fakes import FakeShop
from tests.api.scene import plain


def test_the_ledgers_end_is_shown_in_letters_to_write_down(client: TestClient, shop: FakeShop) -> None:
    end, page = shop.ledger_end(), client.get("/records").text
    assert f"{end.entries} entries" in page
    assert f"<code>{end.digest[:12]}</code>" in page
    assert f"<code>{end.key[:12]}</code>" in page
    assert end.digest[:13] not in page


def test_when_it_was_looked_over_and_copied(client: TestClient, shop: FakeShop) -> None:
    text = plain(client.get("/records").text)
    assert "the chain of entries is unbroken" in text
    assert "Last nightly copy" in text


def test_a_break_is_named(client: TestClient, shop: FakeShop) -> None:
    shop.ledger_broken_at = 17
    text = plain(client.get("/records").text)
    assert "breaks at entry 17" in text
    assert "unbroken" not in text


def test_the_ways_from_here(client: TestClient) -> None:
    page = client.get("/records").text
    for link in ("/failures", "/import", "/api/export?format=csv", "/api/export"):
        assert f'href="{link}"' in page
        assert client.get(link).status_code == 200
