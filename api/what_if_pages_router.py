"""What if? Choose what to hang or switch, and see what it does to every mould. Nothing is recorded."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Form, TheShop
from api.shop_port import ShopPort
from api.templating import render
from api.what_if_figure import what_if_figure
from api.what_if_form import form_of, what_if_of
from service.errors import NotFound, ShopError
from service.records.shop_facts import Room
from service.room.room_fittings import RUNS_WORDS
from service.room.what_if_views import WhatThen
from service.units import Units
from service.voice import say
from service.words import rooms as room_words
from service.words import what_if as what_words
from service.words.numbers import units_of

router = APIRouter(prefix="/what-if", include_in_schema=False)


@router.get("")
def what_if_page(request: Request, shop: TheShop) -> Response:
    """The question, and if one was asked, the answer."""
    form = form_of(request.query_params)
    try:
        room = _room(shop, form)
        asked = what_if_of(form, room.id, shop.site(), shop.clock.now()) if room else None
        then = shop.room_desk.what_if(asked) if asked and asked.changes_anything else None
    except ShopError as problem:
        return _page(request, shop, form, problem=problem)
    return _page(request, shop, form, then)


def _room(shop: ShopPort, form: Form) -> Room | None:
    """As asked; else the first with moulds, else the first."""
    rooms = shop.rooms()
    if form["room"]:
        found = next((room for room in rooms if str(room.id) == form["room"]), None)
        if found is None:
            raise NotFound(
                "room_unknown", say("There is no such room."), say("Choose one of the list."), "room"
            )
        return found
    used = [mould.room.id for mould in shop.board().moulds]
    return next((room for room in rooms if room.id in used), next(iter(rooms), None))


def _page(
    request: Request,
    shop: ShopPort,
    form: Form,
    then: WhatThen | None = None,
    problem: ShopError | None = None,
) -> Response:
    site = shop.site()
    chosen = _chosen(shop, form)
    kept = shop.room_desk.kept(chosen.id) if chosen else None
    us = units_of(site) is Units.US
    context: dict[str, Any] = {
        "form": form,
        "problem": problem,
        "then": then,
        "figure": what_if_figure(then, site) if then else None,
        "rooms": [(room.id, room.name) for room in shop.rooms()],
        "chosen": chosen,
        "fittings": kept.fittings if kept else None,
        "likes": _likes(shop),
        "like": _like(shop, then) if then else "",
        "runs": [(runs.value, say(word)) for runs, word in RUNS_WORDS.items()],
        "switches": [("", say("as it is")), ("on", say("on")), ("off", say("off"))],
        "length_units": ["in", "mm", "cm"] if us else ["mm", "cm", "in"],
        "temperature_units": ["°F", "°C"] if us else ["°C", "°F"],
        "soft_wax": what_words.soft_wax_line(then, _soft_above_k(shop), site) if then else "",
        "what_words": what_words,
        "room_words": room_words,
    }
    return render(request, "what_if.html", problem.status if problem else 200, **context)


def _soft_above_k(shop: ShopPort) -> float:
    return shop.telling.rules.power_cut.wax_soft_above_k


def _chosen(shop: ShopPort, form: Form) -> Room | None:
    try:
        return _room(shop, form)
    except NotFound:
        return _room(shop, Form({}))


def _likes(shop: ShopPort) -> list[tuple[str, str]]:
    """What new ones can be like: moulds that hang, then recipes."""
    moulds = sorted(shop.board().moulds, key=lambda mould: mould.name)
    recipes = shop.shelf.all()
    return [
        *((f"mould:{mould.id}", mould.name) for mould in moulds),
        *((f"recipe:{recipe.name}", say("recipe {title}", title=recipe.title)) for recipe in recipes),
    ]


def _like(shop: ShopPort, then: WhatThen) -> str:
    more = then.asked.more
    if more is None:
        return ""
    if more.like is not None:
        return next((mould.name for mould in shop.board().moulds if mould.id == more.like), "")
    return shop.shelf.get(more.recipe or "").title
