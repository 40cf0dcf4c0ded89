"""The page that asks for the shop key."""

from __future__ import annotations

from dataclasses import replace

import pytest
from fastapi.testclient import TestClient

from api.doors import COOKIE
from api.fakes import SALTMARSH, FakeShop
from api.key_pages_router import own_path
from api.settings import ApiSettings
from service.voice import Language
from tests.api.conftest import client_of
from tests.api.scene import plain

KEY = "reeds and mud"
LOCKED, OUTSIDE = ApiSettings(host="0.0.0.0", shop_key=KEY), "http://shellroom.local:8321"


@pytest.fixture
def locked(shop: FakeShop) -> TestClient:
    return client_of(shop, LOCKED, OUTSIDE)


def test_the_right_key_opens_and_leads_on(locked: TestClient) -> None:
    answer = locked.post("/key", data={"shop_key": KEY, "to": "/mould/1"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/mould/1")
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith(f"{COOKIE}=")
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert "Secure" not in cookie
    assert locked.get("/mould/1").status_code == 200


def test_behind_tls_the_cookie_stays_there(shop: FakeShop) -> None:
    client = client_of(shop, ApiSettings(shop_key=KEY, names=("shop.example",)), "https://shop.example")
    assert "Secure" in client.post("/key", data={"shop_key": KEY}).headers["set-cookie"]


def test_a_wrong_one_does_not(locked: TestClient) -> None:
    answer = locked.post("/key", data={"shop_key": "reeds", "to": "/mould/1"})
    assert answer.status_code == 401
    assert "That is not the shop key." in plain(answer.text)
    assert "set-cookie" not in answer.headers
    assert 'value="/mould/1"' in answer.text
    assert locked.get("/").status_code == 401


def test_too_many_wrong_ones(locked: TestClient) -> None:
    for _ in range(20):
        locked.post("/key", data={"shop_key": "guess"})
    answer = locked.post("/key", data={"shop_key": KEY})
    assert answer.status_code == 429
    assert "Wait a minute" in plain(answer.text)


def test_in_an_open_shop_no_key_fits(client: TestClient) -> None:
    assert client.post("/key", data={"shop_key": ""}).status_code == 401


def test_from_another_page_it_cannot_be_entered(locked: TestClient) -> None:
    answer = locked.post("/key", data={"shop_key": KEY}, headers={"sec-fetch-site": "cross-site"})
    assert answer.status_code == 403


@pytest.mark.parametrize(
    "to", ["//evil.example", "/\\evil.example", "https://evil.example", "evil", "", "javascript:x"]
)
def test_never_leads_elsewhere(to: str) -> None:
    assert own_path(to) == "/"


@pytest.mark.parametrize("to", ["/", "/mould/3?did=4", "/air"])
def test_leads_to_our_own_pages(to: str) -> None:
    assert own_path(to) == to


def test_a_spanish_shop_asks_for_it_in_spanish(shop: FakeShop) -> None:
    shop.save_site(replace(SALTMARSH, language=Language.SPANISH))
    assert '<html lang="es"' in client_of(shop, LOCKED, OUTSIDE).get("/moulds").text
    assert '<html lang="es"' in client_of(shop, LOCKED, OUTSIDE).get("/key").text
