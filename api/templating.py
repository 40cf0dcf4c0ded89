"""Templates: what every page can use, and how one is answered."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any
from urllib.parse import unquote

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from api import strata, times
from api.asked import HAND_COOKIE, new_key
from api.settings import ApiSettings
from api.shop_port import ShopPort
from api.waits import refusal, waits
from service import words
from service.errors import ShopError
from service.listed import capital
from service.local_time import local
from service.terms import term
from service.units import Dimension, Units
from service.voice import Language, say, say_many, voice
from service.words.numbers import units_of

KEPT_PAGES = ("/", "/moulds", "/dipping")
"""What a phone keeps to look at without a connection, beside the page of each mould that hangs and of each tank."""

environment = Environment(
    loader=PackageLoader("api", "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


@cache
def build() -> str:
    """Changes whenever a script or style sheet does, so that a wall screen left open takes the new one."""
    digest = hashlib.sha256()
    for part in sorted((files("api") / "static").iterdir(), key=lambda p: p.name):
        digest.update(part.read_bytes())
    return digest.hexdigest()[:12]


def render(
    request: Request,
    name: str,
    status: int = 200,
    headers: Mapping[str, str] | None = None,
    **context: Any,
) -> Response:
    """A whole page; of one that tells a problem, the words alone where a phone's script asks."""
    problem = context.get("problem")
    if isinstance(problem, ShopError) and waits(request):
        return refusal(problem, status)
    page = environment.get_template(name).render(**surroundings(request), **context)
    return HTMLResponse(page, status, headers)


def surroundings(request: Request) -> dict[str, Any]:
    """What every template may use: the shop's site, now, who holds the phone."""
    return {
        **common(request.app.state.shop, request.app.state.settings),
        "path": request.url.path,
        "hand": unquote(request.cookies.get(HAND_COOKIE, "")),
    }


def common(shop: ShopPort, settings: ApiSettings) -> dict[str, Any]:
    """The part of it that is the same for everybody."""
    site, now = _site(shop), shop.clock.now()
    return {
        "site": site,
        "now": now,
        "night": times.is_night(now, site),
        "demo": shop.demo,
        "build": build(),
        "locked": settings.shop_key is not None,
    }


def _site(shop: ShopPort) -> Any:
    """The site, or None where even that cannot be read: the page that says so must still come."""
    try:
        return shop.site()
    except ShopError:
        return None


def strong(words: object) -> Markup:
    """Words that carry weight inside a sentence."""
    return Markup("<b>{}</b>").format(words)


environment.globals.update(
    kept_pages=KEPT_PAGES,
    words=words,
    strata=strata.strata,
    scale=strata.Scale,
    strata_defs=strata.DEFS,
    new_key=new_key,
    local=local,
    Dimension=Dimension,
    Units=Units,
    units_of=units_of,
    say=say,
    say_many=say_many,
    term=term,
    capital=capital,
    Language=Language,
    voice=voice,
    strong=strong,
)


def capitalize_first(text: str) -> str:
    """``The grey tank``: only its first letter changes, for a tank may be called ``B``."""
    return text[:1].upper() + text[1:]


environment.filters["capitalize_first"] = capitalize_first
