"""From a posted form to the time it is about and back to a page."""

from __future__ import annotations

from datetime import datetime, timedelta
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from api.asked import HAND_COOKIE, NOBODY, Form
from api.shop_port import ShopPort
from api.times import when

A_YEAR_S = 365 * 24 * 3600
LONGEST_TAP_S = 24 * 3600.0
TAPPED_AGO = "x-tapped-ago"


def time_of(form: Form, request: Request, shop: ShopPort) -> datetime | None:
    """When it was done: as chosen; else the moment of the tap, if that had to wait for a connection; else None, now."""
    now = shop.clock.now()
    return when(form["ago"], form["at"], shop.site(), now) or _tapped(request, shop, now)


def _tapped(request: Request, shop: ShopPort, now: datetime) -> datetime | None:
    try:
        ago_s = float(request.headers.get(TAPPED_AGO, "0"))
    except ValueError:
        return None
    if not 1 < ago_s <= LONGEST_TAP_S:
        return None
    return now - timedelta(seconds=ago_s * shop.board().speed)


def seen(path: str, form: Form | None = None) -> Response:
    """On to a page after something was recorded; the phone remembers whose hand it was."""
    answer = RedirectResponse(path, 303)
    if form is not None and form.hand != NOBODY:
        remember_hand(answer, form.hand)
    return answer


def remember_hand(answer: Response, hand: str) -> None:
    """Whose phone it is."""
    # Quoted: a cookie holds plain letters only, and names are written in all alphabets.
    answer.set_cookie(HAND_COOKIE, quote(hand, safe=" "), max_age=A_YEAR_S, samesite="lax")
