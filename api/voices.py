"""Speaks to each request in the language and units of whoever holds the phone."""

from __future__ import annotations

from urllib.parse import unquote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.types import ASGIApp, Receive, Scope, Send

from api.asked import HAND_COOKIE
from api.shop_port import ShopPort
from service.errors import ShopError
from service.units import Units
from service.voice import Language, Voice, speaking

WITHOUT = ("/static/", "/api/")
"""Files say nothing; programs are answered in English and SI, whoever asks."""
SHOWN = "/api/push"
"""But what is answered there a page's own script shows to whoever tapped."""
SPOKEN = "coatbell.voice"
"""Where a request's scope holds it, for what is answered once nothing else is left standing."""
LINKS = "/r/"
VOICE_COOKIE = "coatbell_voice"
"""How a phone speaks to whoever chose nothing by name."""


class Voices:
    """ASGI middleware. Plain, so that what it sets holds in everything below it."""

    def __init__(self, app: ASGIApp, shop: ShopPort) -> None:
        self.app, self.shop = app, shop

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or _is_for_programs(scope["path"]):
            await self.app(scope, receive, send)
            return
        cookies = Request(scope).cookies
        hand = _asked_by(self.shop, scope["path"]) or unquote(cookies.get(HAND_COOKIE, ""))
        phones = unpacked(cookies.get(VOICE_COOKIE, ""))
        scope[SPOKEN] = await run_in_threadpool(_voice_of, self.shop, hand, phones)
        with speaking(scope[SPOKEN]):
            await self.app(scope, receive, send)


def spoken(request: Request) -> Voice:
    """How whoever sent this is spoken to."""
    voice: Voice = request.scope.get(SPOKEN, Voice())
    return voice


def _is_for_programs(path: str) -> bool:
    return path.startswith(WITHOUT) and not path.startswith(SHOWN)


def _asked_by(shop: ShopPort, path: str) -> str | None:
    """Whom a message's link asks, on whatever phone it is opened."""
    return shop.asked_by(path.split("/")[2]) if path.startswith(LINKS) else None


def packed(voice: Voice) -> str:
    """A voice as a cookie holds it."""
    return f"{voice.language}.{voice.units or ''}"


def unpacked(cookie: str) -> Voice | None:
    """The same read again. None: it holds none."""
    language, _, units = cookie.partition(".")
    try:
        return Voice(Language(language), Units(units) if units else None)
    except ValueError:
        return None


def _voice_of(shop: ShopPort, hand: str, phones: Voice | None) -> Voice:
    """Where even that cannot be read, the page that says so must still come."""
    try:
        return shop.voice_of(hand, phones)
    except ShopError:
        return phones or Voice()
