"""Templates: what every page can use, and how one is answered."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any
from urllib.parse import unquote

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse

from api import strata, times
from api.asked import HAND_COOKIE, new_key
from api.shop_port import ShopPort
from service import words
from service.errors import ShopError
from service.listed import capital
from service.local_time import local
from service.terms import term
from service.units import Dimension, Units
from service.voice import Language, say, say_many
from service.words.numbers import units_of

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
) -> HTMLResponse:
    """A whole page."""
    page = environment.get_template(name).render(**surroundings(request), **context)
    return HTMLResponse(page, status, headers)


def surroundings(request: Request) -> dict[str, Any]:
    """What every template may use: the shop's site, now, who holds the phone."""
    shop: ShopPort = request.app.state.shop
    site, now = _site(shop), shop.clock.now()
    return {
        "site": site,
        "now": now,
        "night": times.is_night(now, site),
        "demo": shop.demo,
        "build": build(),
        "path": request.url.path,
        "hand": unquote(request.cookies.get(HAND_COOKIE, "")),
        "locked": request.app.state.settings.shop_key is not None,
    }


def _site(shop: ShopPort) -> Any:
    """The site, or None where even that cannot be read: the page that says so must still come."""
    try:
        return shop.site()
    except ShopError:
        return None


environment.globals.update(
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
)
