"""From a posted form to the time it is about and back to a page."""

from __future__ import annotations

from datetime import datetime
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from api.asked import HAND_COOKIE, NOBODY, Form
from api.shop_port import ShopPort
from api.times import when
from api.waits import made_at

A_YEAR_S = 365 * 24 * 3600


def time_of(form: Form, request: Request, shop: ShopPort) -> datetime | None:
    """When it was done: as chosen; else when the entry was made, if it waited on a phone; else None, now.

    "10 min ago" means before it was made, however long it waited since.
    """
    now = shop.clock.now()
    made = made_at(request, now)
    return when(form["ago"], form["at"], shop.site(), made or now) or made


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
