"""The list of moulds; hanging one up and changing what is known of it."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Form, Posted, TheShop, new_key
from api.board_page import row, strip_scale
from api.fact_words import fact_line
from api.forms import seen, time_of
from api.hooks import hooks_of
from api.mould_form import (
    KIND_WORDS,
    LENGTH_UNITS,
    MASS_UNITS,
    body_of,
    fields_of,
    length_unit,
    mass_unit,
    zone_count,
)
from api.shop_port import ShopPort
from api.start_page import steps_of
from api.templating import render
from service import words
from service.errors import NotFound, ShopError
from service.records.facts import Fact, MouldBody, live
from service.records.recipes import Recipe
from service.voice import say, say_many

router = APIRouter(include_in_schema=False)


@router.get("/moulds")
def mould_list(request: Request, shop: TheShop, page: int = 1, search: str = "") -> Response:
    """Those in the shell room, and a page of those that left it."""
    board = shop.board()
    hanging = board.moulds
    return render(
        request,
        "moulds.html",
        rows=[row(m, board.site, board.at, board.called) for m in hanging],
        strip=strip_scale(hanging, "crowded"),
        past=shop.past_moulds(page, search),
    )


@router.get("/mould/new")
def new_mould_page(request: Request, shop: TheShop, recipe: str = "") -> Response:
    """The form for a new one."""
    return _form_page(request, shop, Form({"recipe": recipe}))


@router.post("/mould/new")
def new_mould(request: Request, shop: TheShop, form: Posted) -> Response:
    """Hang it up; or the form again with one place more or less, or with what is wrong."""
    if "add_zone" in form or "remove_zone" in form:
        return _form_page(request, shop, form)
    try:
        recipe = shop.shelf.get(form.need("recipe", say("Recipe")))
        body = body_of(form, recipe, shop.site(), shop.clock)
        mould = shop.start_mould(body, form.hand, form.key, time_of(form, request, shop))
    except ShopError as problem:
        return _form_page(request, shop, form, problem)
    return seen(f"/mould/{mould.id}", form)


@router.get("/mould/{mould_id}/change")
def change_page(request: Request, shop: TheShop, mould_id: int) -> Response:
    """The form for one that hangs already."""
    known = fields_of(_known(shop, mould_id)[1], shop.site())
    return _form_page(request, shop, known, mould_id=mould_id)


@router.post("/mould/{mould_id}/change")
def change(request: Request, shop: TheShop, mould_id: int, form: Posted) -> Response:
    """Keep what was changed."""
    if "add_zone" in form or "remove_zone" in form:
        return _form_page(request, shop, form, mould_id=mould_id)
    try:
        _, known = _known(shop, mould_id)
        body = body_of(form, known.recipe, shop.site(), shop.clock, known)
        shop.change_mould(mould_id, body, form.hand, form.key, time_of(form, request, shop))
    except ShopError as problem:
        return _form_page(request, shop, form, problem, mould_id)
    number, _ = _known(shop, mould_id)
    return seen(f"/mould/{mould_id}?did={number}", form)


def _known(shop: ShopPort, mould_id: int) -> tuple[int, MouldBody]:
    """What is known of a mould, and the number of the fact that says it."""
    known = [(f.number, f.body) for f in live(shop.records.facts(mould_id)) if isinstance(f.body, MouldBody)]
    if not known:
        raise NotFound(
            "mould_unknown",
            say("There is no mould {mould_id}.", mould_id=mould_id),
            say("Look at the list of moulds."),
        )
    return known[-1]


def _form_page(
    request: Request,
    shop: ShopPort,
    form: Form,
    problem: ShopError | None = None,
    mould_id: int | None = None,
) -> Response:
    status = problem.status if problem else 200
    return render(request, "mould_form.html", status, **form_context(shop, form, problem, mould_id))


def form_context(
    shop: ShopPort, form: Form, problem: ShopError | None = None, mould_id: int | None = None
) -> dict[str, Any]:
    """What the form's template needs."""
    new, site = mould_id is None, shop.site()
    first = new and not shop.hung_any()
    return {
        "title": say("Hang up a mould") if new else say("Change what is known"),
        "action": "/mould/new" if new else f"/mould/{mould_id}/change",
        "button": say("Hang it up") if new else say("Keep the changes"),
        "form": form,
        "problem": problem,
        "key": form["key"] or new_key(),
        "zones": zone_count(form),
        "kinds": [(kind, say(words)) for kind, words in KIND_WORDS.items()],
        "hooks": hooks_of([hook.name for hook in shop.hooks()], shop.board().moulds, mould_id),
        "rooms": [(room.id, room.name) for room in shop.rooms()],
        "recipes": [(r.name, _recipe_line(r)) for r in shop.shelf.all()] if new else [],
        "length_units": LENGTH_UNITS,
        "mass_units": MASS_UNITS,
        "unit": length_unit(site),
        "mass_unit": mass_unit(site),
        "hands": shop.hands(),
        "stay": "" if mould_id is None else _stay(shop, mould_id),
        "last_change": None if mould_id is None else _last_change(shop, mould_id),
        "step": "mould" if first else "",
        "steps": steps_of(shop) if first else [],
    }


def _recipe_line(recipe: Recipe) -> str:
    return say_many(
        "{title}, {number} coat", "{title}, {number} coats", len(recipe.coats), title=recipe.title
    )


def _last_change(shop: ShopPort, mould_id: int) -> tuple[Fact, str] | None:
    """What was changed last, to be undone. None while it is as it was hung up."""
    facts = shop.records.facts(mould_id)
    newest = next(fact for fact in live(facts) if isinstance(fact.body, MouldBody))
    if newest.replaces is None:
        return None
    return newest, fact_line(newest, shop.site(), facts, shop.rooms())


def _stay(shop: ShopPort, mould_id: int) -> str:
    """``In Lean-to since Mon 09:30.``"""
    mould = shop.mould(mould_id)
    since = words.clock_time(mould.hung_here_at or mould.started_at, shop.site(), shop.clock.now())
    return say("In {room} since {since}.", room=mould.room.name, since=since)
