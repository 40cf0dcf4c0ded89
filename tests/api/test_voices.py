"""Each request is spoken to as whoever holds the phone chose."""

from __future__ import annotations

from dataclasses import replace
from urllib.parse import quote

import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route
from starlette.testclient import TestClient

from api.asked import HAND_COOKIE
from api.fakes import SALTMARSH, FakeShop
from api.settings import ApiSettings
from api.voices import Voices
from service.clock import FakeClock
from service.errors import Unavailable
from service.units import Units
from service.voice import Language, Voice, say, voice
from tests.api.conftest import client_of

SPANISH_US = Voice(Language.SPANISH, Units.US)


def words(request: Request) -> PlainTextResponse:
    return PlainTextResponse(f"{say('Board')} {voice().units or 'as the shop'}")


def asked(shop: FakeShop, hand: str = "", path: str = "/") -> str:
    app = Starlette(routes=[Route("/{path:path}", words)])
    app.add_middleware(Voices, shop=shop)
    cookies = {HAND_COOKIE: quote(hand)} if hand else {}
    return TestClient(app, cookies=cookies).get(path).text


def test_nobody_in_particular_is_spoken_to_in_the_shops_language() -> None:
    shop = FakeShop()
    assert asked(shop) == "Board as the shop"
    shop.save_site(replace(SALTMARSH, language=Language.SPANISH))
    assert asked(shop) == "Tablero as the shop"


@pytest.mark.parametrize("hand", ["bench 1", "Bench 1"])
def test_whoever_chose_is_spoken_to_so(hand: str) -> None:
    shop = FakeShop()
    shop.choose_voice("bench 1", SPANISH_US)
    assert asked(shop, hand) == "Tablero us"
    assert asked(shop, "bench 2") == "Board as the shop"


def test_a_name_with_any_letters_is_found() -> None:
    shop = FakeShop()
    shop.choose_voice("Íñigo, banco 3", SPANISH_US)
    assert asked(shop, "Íñigo, banco 3") == "Tablero us"


@pytest.mark.parametrize("path", ["/api/board", "/static/coatbell.css"])
def test_programs_are_answered_in_english(path: str) -> None:
    shop = FakeShop()
    shop.choose_voice("bench 1", SPANISH_US)
    assert asked(shop, "bench 1", path) == "Board as the shop"


def test_where_it_cannot_be_read_the_page_still_comes(monkeypatch: pytest.MonkeyPatch) -> None:
    shop = FakeShop()

    def broken(hand: str, otherwise: Voice | None = None) -> Voice:
        raise Unavailable("records_unreadable", "The records cannot be read.", "Look at the disk.")

    monkeypatch.setattr(shop, "voice_of", broken)
    assert asked(shop, "bench 1") == "Board as the shop"


def test_what_a_pages_script_shows_is_said_as_the_page_is() -> None:
    shop = FakeShop()
    shop.choose_voice("bench 1", SPANISH_US)
    assert asked(shop, "bench 1", "/api/push/3/test") == "Tablero us"


def in_spanish(shop: FakeShop, settings: ApiSettings | None = None) -> TestClient:
    shop.save_site(replace(SALTMARSH, language=Language.SPANISH))
    return client_of(shop, settings)


def test_whoever_is_turned_away_at_the_door_is_told_so_in_their_language() -> None:
    told = in_spanish(FakeShop()).get("/", headers={"host": "elsewhere.example"})
    assert told.status_code == 403
    assert 'lang="es"' in told.text
    assert "not served" not in told.text


def test_the_key_is_asked_for_in_the_shops_language() -> None:
    asked_for = in_spanish(
        FakeShop(), ApiSettings(broker_host="127.0.0.1", shop_key="a key long enough")
    ).get("/")
    assert asked_for.status_code == 401
    assert "Entrar" in asked_for.text


def test_a_fault_of_our_own_is_told_in_their_language(monkeypatch: pytest.MonkeyPatch) -> None:
    shop = FakeShop()
    client = in_spanish(shop)
    monkeypatch.setattr(shop, "board", lambda: 1 / 0)
    told = client.get("/")
    assert told.status_code == 500
    assert 'lang="es"' in told.text
    assert "stumbled" not in told.text


def link_of(shop: FakeShop, person: str = "bench 1") -> str:
    heron = next(mould.id for mould in shop.all_moulds() if mould.name == "Heron")
    return shop.link(shop.ring(heron), person)


def test_a_messages_link_speaks_to_whom_it_asks_on_any_phone(shop: FakeShop) -> None:
    shop.choose_voice("bench 1", SPANISH_US)
    assert asked(shop, "bench 2", link_of(shop)) == "Tablero us"
    assert asked(shop, "bench 1", link_of(shop, "bench 2")) == "Board as the shop"


def test_also_where_it_has_run_out(shop: FakeShop, clock: FakeClock) -> None:
    shop.choose_voice("bench 1", SPANISH_US)
    link = link_of(shop)
    clock.advance(365 * 86400)
    assert asked(shop, "", link) == "Tablero us"


@pytest.mark.parametrize("path", ["/r/", "/r/nonsense", "/r/nonsense/come", "/r//"])
def test_a_link_that_is_not_ours_speaks_to_whoever_holds_the_phone(path: str) -> None:
    shop = FakeShop()
    shop.choose_voice("bench 1", SPANISH_US)
    assert asked(shop, "bench 1", path) == "Tablero us"
    assert asked(shop, "", path) == "Board as the shop"
