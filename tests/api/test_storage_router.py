"""What the records take up: as JSON, and on the page of messages."""

from __future__ import annotations

from fastapi.testclient import TestClient

from api.fakes import FakeShop
from tests.api.scene import plain


def test_every_part_in_bytes(client: TestClient, shop: FakeShop) -> None:
    told = client.get("/api/storage").json()
    found = shop.storage()
    assert (
        told["total_bytes"]
        == found.total
        == sum(told[f"{part}_bytes"] for part in ("database", "free_inside", "back_ups", "photos"))
    )
    assert (told["limit_bytes"], told["disk_free_bytes"]) == (12_000_000_000, 18_000_000_000)
    assert told["keep_readings_s"] == 400 * 86400
    assert told["near"] is False
    assert told["full_at"] is not None


def test_on_the_page(client: TestClient, shop: FakeShop) -> None:
    text = plain(client.get("/messages").text)
    assert "What the records take up 3.2 GB in all, of the 12.0 GB they may take up" in text
    assert "At the rate of these days" not in text
    shop.growth_a_day = 1e9
    assert "At the rate of these days that is full about" in plain(client.get("/messages").text)
