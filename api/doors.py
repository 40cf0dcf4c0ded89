"""The doors: who may come in, from where, and how much they may carry."""

from __future__ import annotations

import hashlib
import hmac
import re
import time
from collections import deque
from collections.abc import Callable
from typing import TypeVar
from urllib.parse import SplitResult, urlsplit

from starlette.datastructures import MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.problems import KeyNeeded, Refused, TooLarge, TooOften, answer
from api.settings import LOOPBACK_NAMES, ApiSettings
from service.alerts.reply_links import LinkUnknown
from service.errors import ShopError
from service.records.pictures import MOST_BYTES, MOST_MB
from service.voice import later, say

Looked = TypeVar("Looked")

COOKIE = "coatbell_shop"
LARGEST_BODY = 256 * 1024
MOST_PHOTOS = 8
"""So many photos in one form."""
LARGEST_PHOTO = MOST_BYTES + LARGEST_BODY
LARGEST_PHOTOS = MOST_PHOTOS * MOST_BYTES + LARGEST_BODY
ONE_PHOTO = re.compile(r"/api/moulds/\d+/photos")
SEVERAL_PHOTOS = re.compile(r"/mould/\d+/(photos|result)")
LARGER = {"/import": 5 * 1024 * 1024, "/import/take": 5 * 1024 * 1024, "/api/import": 9 * 1024 * 1024}
"""What may be larger: an old notebook, of up to 4 MB, wrapped up in a form or in JSON."""
WRITES = {"POST", "PUT", "PATCH", "DELETE"}
WORKER = "/sw.js"
"""The browser looks for a newer worker by itself, without anybody at the page."""
OPEN_PATHS = ("/key", "/static/", "/r/", "/calendar/", WORKER)
"""Where no key is asked for. Under /r/ the link itself is signed, the calendar's address is secret."""
HEADERS = {
    "content-security-policy": (
        "default-src 'self'; img-src 'self' data:; style-src 'self'; frame-ancestors 'none'; "
        "base-uri 'none'; form-action 'self'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
}


class Guesses:
    """Counts wrong keys, so that nobody can try them all."""

    def __init__(self, most: int = 20, within_s: float = 60.0) -> None:
        self._most, self._within_s = most, within_s
        self._wrong: deque[float] = deque(maxlen=most)

    def wrong(self) -> None:
        self._wrong.append(time.monotonic())

    def too_many(self) -> bool:
        return len(self._wrong) == self._most and time.monotonic() - self._wrong[0] < self._within_s


class Lock:
    """The shop key: as a header for programs, as a cookie for people. The cookie is not the key itself."""

    def __init__(self, shop_key: str | None) -> None:
        self._key = shop_key
        self.guesses = Guesses()
        self.link_guesses = (
            Guesses()
        )  # of their own: links of an old machine must not keep out who has the key

    @property
    def cookie(self) -> str:
        return hmac.new((self._key or "").encode(), b"coatbell page cookie", hashlib.sha256).hexdigest()

    def fits(self, key: str) -> bool:
        """Whether this is the key. A wrong one is counted; after too many, none is tried for a while."""
        if self.guesses.too_many():
            raise TooOften(
                "too_many_wrong_keys", say("Too many wrong keys."), say("Wait a minute, then try again.")
            )
        right = self._key is not None and hmac.compare_digest(key.encode(), self._key.encode())
        if not right:
            self.guesses.wrong()
        return right

    def check_link(self, look: Callable[[], Looked]) -> Looked:
        """What `look` finds by a link. One that is none of ours is counted as a wrong key is.

        A right one gets through at any time: its signature is too long to be guessed, and whoever sends wrong ones
        must not silence a shop's replies.
        """
        try:
            return look()
        except LinkUnknown:
            if self.link_guesses.too_many():
                raise TooOften(
                    "too_many_wrong_links",
                    say("Too many wrong links."),
                    say("Wait a minute, then tap again."),
                ) from None
            self.link_guesses.wrong()
            raise

    def opens(self, request: Request) -> bool:
        """Whether this request may come in."""
        if self._key is None:
            return True
        if hmac.compare_digest(request.cookies.get(COOKIE, "").encode(), self.cookie.encode()):
            return True
        scheme, _, key = request.headers.get("authorization", "").partition(" ")
        return scheme.lower() == "bearer" and self.fits(key.strip())


class Doors:
    """ASGI middleware: host, origin, size and key are checked before anything is done for a request."""

    def __init__(self, app: ASGIApp, settings: ApiSettings, lock: Lock) -> None:
        self.app, self.settings, self.lock = app, settings, lock

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        guarded = _guarded(send, "max-age=86400" if scope["path"].startswith("/static/") else "no-store")
        request = Request(scope)
        problem = self._turned_away(request)
        if problem is None:
            await self.app(scope, receive, guarded)
        else:
            await answer(request, problem, _challenge(problem))(scope, receive, guarded)

    def _turned_away(self, request: Request) -> ShopError | None:
        try:
            self._check_host(request)
            if request.method in WRITES:
                _check_origin(request)
            self._check_key(request)
            if request.method in WRITES:
                _check_size(request)
        except ShopError as problem:
            return problem
        return None

    def _check_host(self, request: Request) -> None:
        """A strange name for a loopback address is how a web page elsewhere would reach in (DNS rebinding)."""
        if not self.settings.loopback:
            return
        address = _address(f"//{request.headers.get('host', '')}")
        if address is None or address.hostname not in (*LOOPBACK_NAMES, *self.settings.names):
            raise Refused(
                "strange_host",
                say("Coatbell is not served under that name."),
                say(
                    "Open http://127.0.0.1:{port}/ instead. Behind a proxy, set the name people use as address in "
                    "site.toml, and a shop key.",
                    port=self.settings.port,
                ),
            )

    def _check_key(self, request: Request) -> None:
        # The path as it came: one put together with the Host header could be made to look like another.
        if request.scope["path"].startswith(OPEN_PATHS) or self.lock.opens(request):
            return
        raise KeyNeeded(
            "key_needed", say("The shop key is needed here."), say("Send it as Authorization: Bearer KEY.")
        )


def _check_origin(request: Request) -> None:
    """A write must come from our own pages or from a program, not from a page elsewhere."""
    site, origin = request.headers.get("sec-fetch-site"), request.headers.get("origin")
    if site is not None:
        own = site in ("same-origin", "none")
    else:
        address = _address(origin or "")
        own = origin is None or (address is not None and address.netloc == request.headers.get("host"))
    if not own:
        raise Refused(
            "from_elsewhere",
            say("That came from a page that is not coatbell's."),
            say("Open coatbell itself and try there."),
        )


def _address(text: str) -> SplitResult | None:
    """The parts of an address; None for what is none, such as a bracket left open."""
    try:
        return urlsplit(text)
    except ValueError:
        return None


def _check_size(request: Request) -> None:
    """Of what is sent in pieces of unsaid length nobody knows beforehand where it ends."""
    length = request.headers.get("content-length", "0")
    most, words, todo = _most_bytes(request)
    if "transfer-encoding" in request.headers or not length.isdigit() or int(length) > most:
        raise TooLarge("too_large", words, todo)


PHOTO_TOO_LARGE = later("A photo of more than {most} MB, or of unsaid length, cannot be taken.")


def _most_bytes(request: Request) -> tuple[int, str, str]:
    """How much may be sent there; how that is said, and what to do about it. Only photos and notebooks are large."""
    path = request.scope["path"]
    if request.method == "POST" and ONE_PHOTO.fullmatch(path):
        return LARGEST_PHOTO, say(PHOTO_TOO_LARGE, most=MOST_MB), say("Send a smaller copy.")
    if request.method == "POST" and SEVERAL_PHOTOS.fullmatch(path):
        words = say(
            "More than {most} MB at once, or of unsaid length, cannot be taken.", most=MOST_PHOTOS * MOST_MB
        )
        return LARGEST_PHOTOS, words, say("Send fewer photos at a time.")
    most = LARGER.get(path, LARGEST_BODY)
    words = say("More than {most} KB, or of unsaid length, cannot be taken.", most=most // 1024)
    return most, words, say("Send less, with its Content-Length.")


def _challenge(problem: ShopError) -> dict[str, str]:
    return {"www-authenticate": "Bearer"} if problem.status == 401 else {}


def _guarded(send: Send, cached: str) -> Send:
    """Adds the headers that keep other pages from reaching in, and say how long an answer holds."""

    async def send_guarded(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("cache-control", cached)
        await send(message)

    return send_guarded
