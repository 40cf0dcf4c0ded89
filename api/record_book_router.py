"""The record book: how whole it is, how much room it takes, and the ways to take it along or add an old one."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api.asked import TheSettings, TheShop
from api.calendar_router import CalendarOut, calendar_out
from api.shop_port import ShopPort
from api.templating import render
from service import words
from service.errors import ShopError

router = APIRouter(prefix="/records", include_in_schema=False)

SHORT = 12
"""So many letters of a check sum are enough to be written down."""


@router.get("")
def record_book(request: Request, shop: TheShop, settings: TheSettings) -> Response:
    site, now, end = shop.site(), shop.clock.now(), shop.ledger_end()
    return render(
        request,
        "record_book.html",
        ledger=end,
        short=SHORT,
        whole=words.whole_line(end, site, now),
        backed_up=words.back_up_line(end, site, now),
        storage=words.storage_lines(shop.storage(), site),
        calendar=_calendar(shop),
        only_here=settings.loopback,
    )


def _calendar(shop: ShopPort) -> CalendarOut | ShopError:
    """Where to subscribe, or why that cannot be told: the rest of the page must come all the same."""
    try:
        return calendar_out(shop.calendar.address())
    except ShopError as problem:
        return problem
