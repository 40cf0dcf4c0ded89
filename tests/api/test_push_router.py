"""The browsers that are rung, over JSON."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.fake_push import PUBLIC_KEY
from api.fakes import FakeShop
from api.settings import ApiSettings
from service.alerts.notifiers.notifier import Answer
from service.alerts.push.views import Lost
from service.records.outbox import Outcome
from tests.api.conftest import client_of

# The receiver's public key and secret of RFC 8291 appendix A
KEYS = {
    "p256dh": "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4",
    "auth": "BTBZMqHH6r4Tts7J_aSIgg",
}


def subscription(name: str = "a-long-word") -> dict[str, Any]:
    return {"endpoint": f"https://push.example.org/{name}", "expirationTime": None, "keys": KEYS}


def told(name: str = "a-long-word", **more: Any) -> dict[str, Any]:
    return {"subscription": subscription(name), "person": "bench 1", "device": "phone", **more}


def test_a_browser_is_kept_shown_and_forgotten(client: TestClient) -> None:
    kept = client.post("/api/push", json=told())
    assert kept.status_code == 201
    assert kept.json()["person"] == "bench 1"
    shown = client.get("/api/push").json()
    assert shown["public_key"] == PUBLIC_KEY
    assert shown["people"] == ["bench 1", "bench 2"]
    assert shown["devices"] == [kept.json()]
    assert client.delete(f"/api/push/{kept.json()['id']}").json()["devices"] == []
    assert client.get("/api/push").json()["devices"] == []


def test_no_address_or_key_comes_back(client: TestClient) -> None:
    answer = client.post("/api/push", json=told()).text + client.get("/api/push").text
    for secret in ("a-long-word", KEYS["auth"], KEYS["p256dh"]):
        assert secret not in answer


def test_sent_twice_it_is_one(client: TestClient) -> None:
    headers = {"idempotency-key": "phone-of-bench-1"}
    first, second = (client.post("/api/push", json=told(), headers=headers) for _ in range(2))
    assert first.json() == second.json()
    assert len(client.get("/api/push").json()["devices"]) == 1


def test_one_takes_anothers_place(client: TestClient) -> None:
    old = client.post("/api/push", json=told("old")).json()
    client.post("/api/push", json={"subscription": subscription("new"), "replaces": old["mark"]})
    marks = [device["mark"] for device in client.get("/api/push").json()["devices"]]
    assert len(marks) == 1
    assert old["mark"] not in marks


@pytest.mark.parametrize(
    "wrong",
    [
        {},
        {"person": "bench 1"},
        told(person="x" * 61),
        told(device="x" * 61),
        told(subscription={"endpoint": "https://push.example.org/a"}),
        told(subscription={**subscription(), "keys": {**KEYS, "auth": "short"}}),
        told(subscription={**subscription(), "endpoint": "x" * 2001}),
        told(colour="grey"),
    ],
)
def test_what_is_wrong_is_said(client: TestClient, wrong: dict[str, Any]) -> None:
    answer = client.post("/api/push", json=wrong)
    assert answer.status_code == 422
    assert answer.json()["error"]["todo"]


def test_a_test_message_to_one(client: TestClient, shop: FakeShop) -> None:
    number = client.post("/api/push", json=told()).json()["id"]
    assert client.post(f"/api/push/{number}/test").json() == {"taken": True, "words": ""}
    shop.push.answer = Answer(Outcome.UNREACHED, "nobody answered there")
    assert client.post(f"/api/push/{number}/test").json() == {
        "taken": False,
        "words": "nobody answered there",
    }
    assert shop.push.tested == [number, number]


@pytest.mark.parametrize(("verb", "path"), [("DELETE", "/api/push/99"), ("POST", "/api/push/99/test")])
def test_one_nobody_knows(client: TestClient, verb: str, path: str) -> None:
    assert client.request(verb, path).status_code == 404


def test_switched_off_says_why(client: TestClient, shop: FakeShop) -> None:
    shop.push.why_off = "No address is set."
    shown = client.get("/api/push").json()
    assert (shown["public_key"], shown["why_off"]) == (None, "No address is set.")


def test_those_lost_are_told(client: TestClient, shop: FakeShop) -> None:
    shop.push.lost.append(Lost("bench 1", "old phone", shop.clock.now()))
    assert client.get("/api/push").json()["lost"][0]["device"] == "old phone"


@pytest.mark.parametrize(
    ("verb", "path"),
    [("GET", "/api/push"), ("POST", "/api/push"), ("DELETE", "/api/push/1"), ("POST", "/api/push/1/test")],
)
def test_all_of_it_asks_for_the_key(shop: FakeShop, verb: str, path: str) -> None:
    locked = client_of(
        shop, ApiSettings(host="0.0.0.0", shop_key="reeds and mud"), "http://shellroom.local:8321"
    )
    assert locked.request(verb, path, json=told()).status_code == 401


def test_not_from_a_page_elsewhere(client: TestClient) -> None:
    assert client.post("/api/push", json=told(), headers={"sec-fetch-site": "cross-site"}).status_code == 403
