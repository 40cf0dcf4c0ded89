"""Setting up a forecast of the air outside, and looking what comes out before it is kept."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Form, Posted, TheShop, new_key
from api.forms import seen
from api.outdoor_form import (
    DAMP,
    WARM,
    every_choices,
    fields_of,
    hour_row,
    stands_line,
    table_of,
    tried_line,
)
from api.set_up_words import here_line
from api.shop_port import ShopPort
from api.templating import render
from service.errors import ShopError
from service.outdoor.desk import OutdoorTried
from service.voice import say

router = APIRouter(prefix="/set-up/outdoor", include_in_schema=False)


@router.get("")
def outdoor_page(request: Request, shop: TheShop) -> Response:
    """What holds, to be changed."""
    return _page(request, shop, fields_of(shop.outdoor.now().outdoor))


@router.post("")
def keep_outdoor(request: Request, shop: TheShop, form: Posted) -> Response:
    """Try it out, or go by it from now on."""
    try:
        if form["do"] == "look":
            return _page(request, shop, form, tried=shop.outdoor.try_out(table_of(form)))
        shop.outdoor.set_up(table_of(form), form.hand)
    except ShopError as problem:
        return _page(request, shop, form, problem)
    return seen("/set-up/outdoor", form)


@router.post("/away")
def outdoor_away(shop: TheShop, form: Posted) -> Response:
    """As site.toml says again."""
    shop.outdoor.forget(form.hand)
    return seen("/set-up/outdoor", form)


def _page(
    request: Request,
    shop: ShopPort,
    form: Form,
    problem: ShopError | None = None,
    tried: OutdoorTried | None = None,
) -> Response:
    stands, site, now = shop.outdoor.now(), shop.site(), shop.clock.now()
    rooms = [("", say("no room of ours hangs outside")), *((room.name, room.name) for room in shop.rooms())]
    return render(
        request,
        "set_up_outdoor.html",
        problem.status if problem else 200,
        form=form,
        problem=problem,
        stands=stands_line(stands, site, now),
        wrong=stands.wrong[1] if stands.wrong else "",
        here_line=here_line(stands.said, site, now) if stands.said else "",
        tried=tried_line(tried, site, now) if tried else "",
        rows=[hour_row(hour, site, now) for hour in tried.some] if tried else [],
        every_choices=every_choices(form["every"] or "1 h"),
        warm_units=WARM,
        damp_units=DAMP,
        room_choices=rooms,
        key=new_key(),
        hands=shop.hands(),
    )
