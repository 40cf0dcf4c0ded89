"""Whose phone it is, and how they are spoken to."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from api.fakes import FakeShop
from api.voices import packed, unpacked
from service.units import Units
from service.voice import Language, Voice


def test_by_name_it_holds_on_every_phone_of_theirs(client: TestClient, shop: FakeShop) -> None:
    """Also for somebody who is in no list."""
    data = {"hand": "the apprentice", "language": "es", "units": "us"}
    assert client.post("/yours", data=data).status_code == 303
    assert shop.voice_of("The Apprentice") == Voice(Language.SPANISH, Units.US)
    page = client.get("/yours?did=true").text
    assert 'value="the apprentice"' in page
    assert '<option value="es" selected>' in page
    assert '<option value="us" selected>' in page
    assert "°F" in client.get("/air").text


def test_without_a_name_it_holds_on_this_phone_alone(client: TestClient, shop: FakeShop) -> None:
    client.post("/yours", data={"hand": "bench 1", "language": "en", "units": ""})
    client.post("/yours", data={"hand": "", "language": "en", "units": "us"})
    assert client.cookies.get("coatbell_hand", None) is None
    assert shop.voice_of("") == Voice()
    assert "°F" in client.get("/air").text
    client.cookies.clear()
    assert "°F" not in client.get("/air").text


def test_who_chose_nothing_is_spoken_to_as_the_phone_is(client: TestClient) -> None:
    client.cookies.set("coatbell_voice", "en.us")
    client.cookies.set("coatbell_hand", "bench 2")
    assert "°F" in client.get("/air").text


def test_a_name_goes_before_what_the_phone_chose(client: TestClient, shop: FakeShop) -> None:
    client.post("/yours", data={"hand": "", "language": "en", "units": "us"})
    client.post("/yours", data={"hand": "bench 1", "language": "en", "units": "metric"})
    assert client.cookies.get("coatbell_voice", None) is None
    assert "°F" not in client.get("/air").text


@pytest.mark.parametrize("wrong", [{"language": "xx"}, {"units": "ells"}, {"hand": "\u202e"}])
def test_what_cannot_be_is_told_and_the_rest_kept(client: TestClient, wrong: dict[str, str]) -> None:
    answer = client.post("/yours", data={"hand": "bench 9", "language": "en", "units": "us", **wrong})
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text


@pytest.mark.parametrize("voice", [Voice(), Voice(Language.SPANISH), Voice(Language.ENGLISH, Units.US)])
def test_a_cookie_holds_a_voice(voice: Voice) -> None:
    assert unpacked(packed(voice)) == voice


@pytest.mark.parametrize("cookie", ["", "xx.us", "es.ells", "es.us.us"])
def test_any_other_cookie_holds_none(cookie: str) -> None:
    assert unpacked(cookie) is None
