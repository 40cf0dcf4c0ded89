"""How a mould came out, told on its page, with photos if there are any."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Form, TheShop
from api.forms import seen, time_of
from api.mould_page import page_context
from api.photo_form import PostedPhotos, SentPhotos, keep_photos
from api.result_form import body_of
from api.shop_port import ShopPort
from api.templating import render
from service.errors import ShopError
from service.voice import later, say

router = APIRouter(prefix="/mould/{mould_id}", include_in_schema=False)

AGAIN = later("The photos were not kept yet: choose them again.")


@router.post("/result")
def result(request: Request, shop: TheShop, mould_id: int, sent: PostedPhotos) -> Response:
    """The result is recorded before the photos: a photo that cannot be kept takes nothing else with it."""
    form = sent.form
    try:
        at = time_of(form, request, shop)
        fact = shop.result(mould_id, body_of(form), form.hand, form.key, at)
    except ShopError as problem:
        problem.todo = f"{problem.todo} {say(AGAIN)}" if sent.files else problem.todo
        return _page(request, shop, mould_id, problem, form)
    _, wrong = keep_photos(shop, mould_id, sent, at)
    if wrong is not None:
        return _page(request, shop, mould_id, wrong, did=fact.number)
    return seen(f"/mould/{mould_id}?did={fact.number}", form)


@router.post("/photos")
def photos(request: Request, shop: TheShop, mould_id: int, sent: PostedPhotos) -> Response:
    """Keep the photos that were taken or chosen."""
    form = sent.form
    try:
        at = time_of(form, request, shop)
        shop.mould(mould_id)
        kept, wrong = keep_photos(shop, mould_id, _some(sent), at)
    except ShopError as problem:
        return _page(request, shop, mould_id, problem, form)
    did = kept[-1].number if kept else None
    if wrong is not None:
        return _page(request, shop, mould_id, wrong, form, did)
    return seen(f"/mould/{mould_id}?did={did}", form)


def _some(sent: SentPhotos) -> SentPhotos:
    if not sent.files:
        sent.form.need("photo", say("Photo"))
    return sent


def _page(
    request: Request,
    shop: ShopPort,
    mould_id: int,
    problem: ShopError,
    form: Form | None = None,
    did: int | None = None,
) -> Response:
    asked = "" if form is None else "result" if form["verdict"] else "photos"
    context = page_context(shop, mould_id, did, problem, form, asked)
    return render(request, "mould.html", problem.status, **context)
