"""A mould moved to another hook, or room, with one tap."""

from __future__ import annotations

from fastapi import APIRouter
from pydantic import ValidationError
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Form, Posted, TheShop, new_key
from api.forms import seen, time_of
from api.hooks import hooks_of
from api.problem_words import told
from api.shop_port import ShopPort
from api.templating import render
from service.errors import ShopError
from service.records.facts import MouldBody, live
from service.voice import say

router = APIRouter(prefix="/mould/{mould_id}/move", include_in_schema=False)


@router.get("")
def move_page(request: Request, shop: TheShop, mould_id: int) -> Response:
    """The hooks, free ones first."""
    return _page(request, shop, mould_id, Form({}))


@router.post("")
def move(request: Request, shop: TheShop, mould_id: int, form: Posted) -> Response:
    """Hang it there. Moved to another room it dries in that air from now on."""
    try:
        _move(request, shop, mould_id, form)
    except (ShopError, ValidationError) as error:
        problem = error if isinstance(error, ShopError) else told(error.errors()[0])
        return _page(request, shop, mould_id, form, problem)
    newest = next(f for f in live(shop.records.facts(mould_id)) if isinstance(f.body, MouldBody))
    return seen(f"/mould/{mould_id}?did={newest.number}", form)


def _move(request: Request, shop: ShopPort, mould_id: int, form: Form) -> None:
    known = next(f.body for f in live(shop.records.facts(mould_id)) if isinstance(f.body, MouldBody))
    where = {"hook": _hook(form), "room_id": form.whole("room_id", say("Room"))}
    body = MouldBody.model_validate({**known.model_dump(), **where})
    moved = body.room_id != known.room_id
    at = time_of(form, request, shop) if moved else None
    shop.change_mould(mould_id, body, form.hand, form.key, at)


def _hook(form: Form) -> str:
    """The one tapped, or else the one typed."""
    return form["hook"] or form.need("hook_other", say("Hook"))


def _page(
    request: Request, shop: ShopPort, mould_id: int, form: Form, problem: ShopError | None = None
) -> Response:
    mould, named = shop.mould(mould_id), [hook.name for hook in shop.hooks()]
    return render(
        request,
        "move.html",
        problem.status if problem else 200,
        mould=mould,
        hooks=hooks_of(named, shop.board().moulds, mould_id),
        rooms=[(room.id, room.name) for room in shop.rooms()],
        room_id=form["room_id"] or mould.room.id,
        form=form,
        problem=problem,
        key=form["key"] or new_key(),
    )
