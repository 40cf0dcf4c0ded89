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
from api.voices import Voices
from service.clock import FakeClock
from service.errors import Unavailable
from service.units import Units
from service.voice import Language, Voice, say, voice

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
