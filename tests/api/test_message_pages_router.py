"""What was told to whom, and what did not go out."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from html import unescape

import pytest
from fastapi.testclient import TestClient

from api.fakes import START, FakeShop
from api.message_pages_router import OUTCOMES
from api.settings import ApiSettings
from service.alerts.who_is_told import WayNow, WhoIsTold
from service.errors import Unavailable
from service.records.outbox import Outcome, TryRow
from service.room.views import Trouble
from tests.api.conftest import client_of
from tests.api.scene import plain
from tests.api.test_shop_router import alert


def test_told(client: TestClient, shop: FakeShop) -> None:
    shop.alert_rows = [alert(delivered_at=START + timedelta(minutes=1))]
    page = client.get("/messages").text
    assert "14:20 Heron: dip coat 5 Grey tank. Told: shop phone at 14:21" in plain(page)
    assert 'href="/mould/1"' in page


def test_who_got_it_stands_in_one_line_and_who_did_not_apart(client: TestClient, shop: FakeShop) -> None:
    got, missed = alert(delivered_at=START), alert(error="nobody answers there")
    office = replace(got.deliveries[0], recipient="office", delivered_at=START + timedelta(minutes=1))
    shop.alert_rows = [replace(got, deliveries=(*got.deliveries, *missed.deliveries, office))]
    text = plain(client.get("/messages").text)
    assert (
        "Told: shop phone at 14:20, office at 14:21 shop phone: not delivered: nobody answers there" in text
    )


def test_not_delivered_says_why_and_when_it_is_tried_again(client: TestClient, shop: FakeShop) -> None:
    failed = alert(error="ntfy: nobody answers there")
    sent = replace(failed.deliveries[0], next_try_at=START + timedelta(minutes=5), attempts=2)
    shop.alert_rows = [replace(failed, deliveries=(sent,)), alert(error="no longer true")]
    text = plain(client.get("/messages").text)
    assert "shop phone: not delivered: ntfy: nobody answers there; next try 14:25" in text
    assert "shop phone: not delivered: no longer true; given up" in text


def tried(number: int, way: str, outcome: Outcome | None, words: str | None = None) -> TryRow:
    at = START + timedelta(minutes=number)
    return TryRow(number, way, number > 1, at, None if outcome is None else at, outcome, words)


def test_each_attempt_can_be_looked_at(client: TestClient, shop: FakeShop) -> None:
    told = alert(delivered_at=START + timedelta(minutes=5))
    tries = (
        tried(1, "ntfy", Outcome.UNCLEAR, "answered 500 (Internal Server Error)"),
        tried(2, "mail", None),
        tried(3, "ntfy", Outcome.LATER),
        tried(4, "ntfy", Outcome.REFUSED),
        tried(5, "ntfy", Outcome.UNREACHED),
        tried(6, "mail", Outcome.TAKEN),
    )
    shop.alert_rows = [replace(told, deliveries=(replace(told.deliveries[0], tries=tries),))]
    page = client.get("/messages").text
    assert "<details" in page[page.index("6 attempts") - 40 : page.index("6 attempts")]
    for line in (
        "14:21 to shop phone by ntfy: may have arrived (answered 500 (Internal Server Error))",
        "14:22 to shop phone by mail, a repeat: broken off: it may have arrived",
        "14:23 to shop phone by ntfy, a repeat: asked to wait",
        "14:24 to shop phone by ntfy, a repeat: refused",
        "14:25 to shop phone by ntfy, a repeat: not reached",
        "14:26 to shop phone by mail, a repeat: taken",
    ):
        assert line in plain(page)


def test_every_outcome_has_words() -> None:
    assert set(OUTCOMES) == {*Outcome, None}


def test_one_attempt_is_one(client: TestClient, shop: FakeShop) -> None:
    told = alert(delivered_at=START)
    first = replace(told.deliveries[0], tries=(tried(1, "ntfy", Outcome.TAKEN),))
    shop.alert_rows = [replace(told, deliveries=(first,)), alert()]
    text = plain(client.get("/messages").text)
    assert "1 attempt 14:21" in text
    assert text.count("attempt") == 1


def test_who_is_told_of_what(client: TestClient, shop: FakeShop) -> None:
    ways = (WayNow("ntfy", START, "answered 404 (Not Found)"), WayNow("mail"))
    shop.told_ones = [
        WhoIsTold("bench 1", "next dip due", "told first; at work Mon to Fri 07:00 to 17:00", ways),
        WhoIsTold("bench 2", "everything", "turn 2, if nobody before picks up", ()),
    ]
    text = plain(client.get("/messages").text)
    assert "bench 1: next dip due told first; at work Mon to Fri 07:00 to 17:00" in text
    assert "by ntfy: off since 14:20, answered 404 (Not Found) by mail" in text
    assert "no way to them is named" in text


def test_what_does_not_go_out_stands_at_the_top_and_on_the_phone_page(
    client: TestClient, shop: FakeShop
) -> None:
    shop.troubles = [
        Trouble("way_off", "bench 1's ntfy refuses messages: answered 404", START),
        Trouble("broker_down", "The broker cannot be reached.", None),
    ]
    text = unescape(plain(client.get("/messages").text))
    assert "bench 1's ntfy refuses messages: answered 404 (since 14:20)" in text
    assert "broker" not in text
    phone = client.get("/mould/1").text
    assert "bench 1's ntfy refuses messages" in unescape(plain(phone))
    assert 'href="/messages">bench 1' in phone
    assert "The broker" not in phone


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
        assert "console: taken" in plain(answer.text)
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


DEAD = "The links in messages open on this machine only, not on a phone"


@pytest.mark.parametrize(
    ("lead_here", "way", "said"),
    [(True, "ntfy", True), (True, "console", False), (False, "ntfy", False)],
)
def test_links_that_no_phone_can_open_are_told(shop: FakeShop, lead_here: bool, way: str, said: bool) -> None:
    shop.told_ones = [WhoIsTold("bench 1", "everything", "at once", (WayNow(way),))]
    client = client_of(shop, ApiSettings(links_lead_here=lead_here))
    assert (DEAD in plain(client.get("/messages").text)) is said
