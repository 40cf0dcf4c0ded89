"""A dipping session: one tank, several moulds, each ticked as it comes out of the slurry."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Form, Posted, TheShop
from api.dipping_page import all_refused, choose_context, dips_of, numbers_in, session_context
from api.forms import seen, time_of
from api.several_dips import OneDip, Refused, dip_several
from api.shop_port import ShopPort
from api.templating import render
from api.waits import refusal, waits
from service.errors import ShopError
from service.voice import say

router = APIRouter(prefix="/dipping", include_in_schema=False)

Named = Annotated[str, Query(max_length=1000)]


@router.get("")
def dipping_page(request: Request, shop: TheShop, tank: Named = "", did: Named = "") -> Response:
    """Which tank; then what is ready for it."""
    if not tank.strip():
        return render(request, "dipping_tanks.html", **choose_context(shop))
    context = session_context(shop, tank.strip(), numbers_in(did))
    return render(request, "dipping.html", problem=None, **context)


@router.post("")
def dipped(request: Request, shop: TheShop, form: Posted) -> Response:
    """Record what was ticked. What is refused stands there again, with why; the rest is recorded."""
    try:
        tank = form.need("tank", say("Tank"))
        now, speed = shop.clock.now(), shop.board().speed
        dips = dips_of(form, time_of(form, request, shop), now, speed)
    except ShopError as problem:
        return _again(request, shop, form, [], [], problem, {})
    recorded, refused = dip_several(shop, tank, dips, form.hand)
    numbers = [fact.number for fact in recorded]
    if not refused:
        return seen(f"/dipping?{urlencode({'tank': tank, 'did': ','.join(map(str, numbers))})}", form)
    ticked = {each.dip.mould_id: _ago_s(form, each.dip) for each in refused}
    return _again(request, shop, form, numbers, refused, None, ticked)


@router.post("/undo")
def undo(request: Request, shop: TheShop, form: Posted) -> Response:
    """Take one of them back."""
    tank, left = form["tank"], [n for n in numbers_in(form["did"]) if str(n) != form["number"]]
    try:
        shop.withdraw(form.whole("number", say("Record")), form.hand, form.key)
    except ShopError as problem:
        return _again(request, shop, form, numbers_in(form["did"]), [], problem, {})
    return seen(f"/dipping?{urlencode({'tank': tank, 'did': ','.join(map(str, left))})}", form)


def _ago_s(form: Form, dip: OneDip) -> float:
    """How long ago it was ticked, by the form: once more to be sent."""
    try:
        return float(form[f"ago_{dip.mould_id}"] or "0")
    except ValueError:
        return 0.0


def _again(
    request: Request,
    shop: ShopPort,
    form: Form,
    did: list[int],
    refused: list[Refused],
    problem: ShopError | None,
    ticked: dict[int, float],
) -> Response:
    if refused and waits(request):
        return refusal(all_refused(refused, shop), 409)
    context = session_context(shop, form["tank"], did, ticked, refused, form)
    status = problem.status if problem else 409
    return render(request, "dipping.html", status, problem=problem, **context)
