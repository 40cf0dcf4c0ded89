"""What this shop taught, and having it learned anew."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Posted, TheShop
from api.forms import seen
from api.learned_page import learned_context
from api.templating import render
from service.errors import NotFound, ShopError
from service.records.facts import LearnAnewBody
from service.voice import say

router = APIRouter(prefix="/learned", include_in_schema=False)


@router.get("")
def learned_page(request: Request, shop: TheShop, did: int | None = None) -> Response:
    """Everything learned, what it rests on, and how it is learned."""
    return render(request, "learned.html", **learned_context(shop, did))


@router.post("/anew")
def learn_anew(request: Request, shop: TheShop, form: Posted) -> Response:
    """From now on learn one thing anew, or all of it."""
    try:
        fact = shop.learn_anew(form["effect"], form["of"], form["text"][:500], form.hand, form.key)
    except ShopError as problem:
        return render(
            request, "learned.html", problem.status, **learned_context(shop, problem=problem, form=form)
        )
    return seen(f"/learned?did={fact.number}", form)


@router.post("/anew/{number}/withdraw")
def withdraw(request: Request, shop: TheShop, number: int, form: Posted) -> Response:
    """Take that back: what was learned before counts again."""
    try:
        if not isinstance(shop.records.fact(number).body, LearnAnewBody):
            raise NotFound(
                "anew_unknown",
                say("Record {number} is nothing to be learned anew.", number=number),
                say("Look at the list on this page."),
            )
        shop.withdraw(number, form.hand, form.key)
    except ShopError as problem:
        return render(request, "learned.html", problem.status, **learned_context(shop, problem=problem))
    return seen("/learned", form)
