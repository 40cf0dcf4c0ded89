"""What was told to whom, and what did not go out."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient

from api.fakes import START, FakeShop
from service.errors import Unavailable
from tests.api.conftest import client_of
from tests.api.scene import plain
from tests.api.test_shop_router import alert


def test_told(client: TestClient, shop: FakeShop) -> None:
    shop.alert_rows = [alert(delivered_at=START + timedelta(minutes=1))]
    page = client.get("/messages").text
    assert "14:20 Heron: dip coat 5 Grey tank. shop phone: told 14:21" in plain(page)
    assert 'href="/mould/1"' in page


def test_not_delivered_says_why_and_when_it_is_tried_again(client: TestClient, shop: FakeShop) -> None:
    failed = alert(error="no connection")
    sent = replace(failed.deliveries[0], next_try_at=START + timedelta(minutes=5), attempts=2)
    shop.alert_rows = [replace(failed, deliveries=(sent,)), alert(error="refused")]
    text = plain(client.get("/messages").text)
    assert "not delivered after 2 tries: no connection; next try 14:25" in text
    assert "not delivered after 1 try: refused; given up" in text


def test_on_its_way_and_over(client: TestClient, shop: FakeShop) -> None:
    shop.alert_rows = [replace(alert(), cleared_at=START)]
    text = plain(client.get("/messages").text)
    assert "waiting to go out" in text
    assert "over since 14:20" in text


def test_nothing_yet(client: TestClient) -> None:
    assert "Nothing was told yet." in plain(client.get("/messages").text)


def test_a_test_message_says_how_it_went_and_goes_out_once(client: TestClient, shop: FakeShop) -> None:
    for _ in range(2):
        answer = client.post("/messages/test", data={"key": "test-key-0001"})
        assert "console: told" in plain(answer.text)
    assert shop.messages_sent == 1


def test_nobody_to_tell(shop: FakeShop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shop, "send_test_message", list)
    assert "Nobody is told of anything" in plain(client_of(shop).post("/messages/test").text)


def test_a_test_that_cannot_go_out(shop: FakeShop, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail() -> list[str]:
        raise Unavailable("no_way_out", "No message can go out.", "Look at alerts.toml.")

    monkeypatch.setattr(shop, "send_test_message", fail)
    answer = client_of(shop).post("/messages/test")
    assert answer.status_code == 503
    assert "No message can go out." in plain(answer.text)
