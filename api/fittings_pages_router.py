"""Setting up the slurry tanks, with what is wanted of each, and the hooks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Form, Posted, TheReplays, TheShop, new_key
from api.fittings_form import fields_of_tank, hook_of, tank_of
from api.forms import seen
from api.set_up_words import here_line
from api.shop_port import ShopPort
from api.tank_form import DENSITY_UNITS, TEMPERATURE_UNITS
from api.templating import render
from service.errors import Conflict, NotFound, ShopError
from service.records.plain import name_of, spelling
from service.records.set_up import Part, SetUp
from service.room.fittings import HookSetUp, TankSetUp, hangs_on, hooks_set_up, names_in, tanks_set_up
from service.units import Units
from service.voice import say
from service.words.numbers import units_of

router = APIRouter(prefix="/set-up", include_in_schema=False)


@router.get("/tanks")
def tanks_page(request: Request, shop: TheShop, did: str = "") -> Response:
    """The tanks that were set up, and those that only recipes name."""
    set_up = tanks_set_up(shop.set_up(Part.TANKS))
    known = {spelling(name) for name in set_up}
    others = [name for name in shop.tanks() if spelling(name) not in known]
    lines = _here_lines(shop, Part.TANKS)
    return render(request, "set_up_tanks.html", tanks=set_up, others=others, here=lines, did=did)


@router.get("/tanks/one")
def tank_page(request: Request, shop: TheShop, name: str = "") -> Response:
    """One of them, or a new one."""
    tank = tanks_set_up(shop.set_up(Part.TANKS)).get(name)
    form = fields_of_tank(name, tank, units_of(shop.site())) if tank else Form({"name": name})
    return _tank_page(request, shop, form, new=tank is None)


@router.post("/tanks/one")
def keep_tank(request: Request, shop: TheShop, form: Posted, replays: TheReplays) -> Response:
    """Keep how it is."""
    try:
        name = name_of(form.need("name", say("Name")), say("the tank"), "name")
        tank, new = tank_of(form), bool(form["new"])
        replays.once(
            form.key, ("tank", name, tank, new), lambda: _keep_tank(shop, name, tank, form.hand, new)
        )
    except ShopError as problem:
        return _tank_page(request, shop, form, bool(form["new"]), problem)
    return seen(f"/set-up/tanks?did={quote(name, safe='')}", form)


@router.post("/tanks/away")
def tank_away(request: Request, shop: TheShop, form: Posted) -> Response:
    """It is there no more; its checks stay."""
    _check_there(form["name"], shop.set_up(Part.TANKS))
    shop.take_away(Part.TANKS, form["name"], form.hand)
    return seen("/set-up/tanks", form)


@router.get("/hooks")
def hooks_page(request: Request, shop: TheShop) -> Response:
    """All hooks with what hangs there, and a form to add some."""
    return _hooks_page(request, shop, Form({}))


@router.post("/hooks")
def add_hooks(request: Request, shop: TheShop, form: Posted, replays: TheReplays) -> Response:
    """Add one, or several at once."""
    try:
        names = [
            name_of(name, say("the hook"), "names") for name in names_in(form.need("names", say("Names")))
        ]
        hook = hook_of(form, order=0)
        replays.once(form.key, ("hooks", tuple(names), hook), lambda: _add_all(shop, names, hook, form.hand))
    except ShopError as problem:
        return _hooks_page(request, shop, form, problem)
    return seen("/set-up/hooks", form)


@router.post("/hooks/move")
def move_hook(shop: TheShop, form: Posted) -> Response:
    """One place up or down in the list."""
    _hook(shop, form["name"])
    hooks = hooks_set_up(shop.set_up(Part.HOOKS))
    names = list(hooks)
    at = names.index(form["name"])
    names.insert(max(at + (1 if form["do"] == "down" else -1), 0), names.pop(at))
    for order, name in enumerate(names, 1):
        if hooks[name].order != order:
            shop.keep_hook(name, hooks[name].model_copy(update={"order": order}), form.hand)
    return seen("/set-up/hooks", form)


@router.get("/hooks/one")
def hook_page(request: Request, shop: TheShop, name: str) -> Response:
    """One of them, to be changed."""
    hook = _hook(shop, name)
    filled = {"name": name, "room_id": str(hook.room_id), "note": hook.note}
    return _hook_page(request, shop, Form({**filled, "out_of_use": "yes" if hook.out_of_use else ""}))


@router.post("/hooks/one")
def keep_hook(request: Request, shop: TheShop, form: Posted, replays: TheReplays) -> Response:
    """Keep where it is."""
    before = _hook(shop, form["name"])
    try:
        hook = hook_of(form, before.order)
        replays.once(
            form.key, ("hook", form["name"], hook), lambda: shop.keep_hook(form["name"], hook, form.hand)
        )
    except ShopError as problem:
        return _hook_page(request, shop, form, problem)
    return seen("/set-up/hooks", form)


@router.post("/hooks/away")
def hook_away(shop: TheShop, form: Posted) -> Response:
    """It is there no more."""
    _check_there(form["name"], shop.set_up(Part.HOOKS))
    shop.take_away(Part.HOOKS, form["name"], form.hand)
    return seen("/set-up/hooks", form)


def _tank_page(
    request: Request, shop: ShopPort, form: Form, new: bool, problem: ShopError | None = None
) -> Response:
    us = units_of(shop.site()) is Units.US
    context: dict[str, Any] = {
        "form": form,
        "new": new,
        "problem": problem,
        "key": form["key"] or new_key(),
        "hands": shop.hands(),
        "here_line": _here_lines(shop, Part.TANKS).get(form["name"], ""),
        "temperature_units": _pairs(TEMPERATURE_UNITS[::-1] if us else TEMPERATURE_UNITS),
        "density_units": _pairs(DENSITY_UNITS[::-1] if us else DENSITY_UNITS),
    }
    return render(request, "set_up_tank.html", problem.status if problem else 200, **context)


def _hooks_page(request: Request, shop: ShopPort, form: Form, problem: ShopError | None = None) -> Response:
    moulds, hooks = shop.board().moulds, hooks_set_up(shop.set_up(Part.HOOKS))
    named = {mould.id: mould.name for mould in moulds}
    hangs = {name: hangs_on(name, hook, moulds) for name, hook in hooks.items()}
    return render(
        request,
        "set_up_hooks.html",
        problem.status if problem else 200,
        hooks=hooks,
        hangs=hangs,
        mould_names=named,
        rooms=shop.rooms(),
        room_choices=_room_choices(shop),
        form=form,
        problem=problem,
        key=form["key"] or new_key(),
        hands=shop.hands(),
    )


def _hook_page(request: Request, shop: ShopPort, form: Form, problem: ShopError | None = None) -> Response:
    return render(
        request,
        "set_up_hook.html",
        problem.status if problem else 200,
        form=form,
        problem=problem,
        room_choices=_room_choices(shop),
        here_line=_here_lines(shop, Part.HOOKS).get(form["name"], ""),
        key=form["key"] or new_key(),
        hands=shop.hands(),
    )


def _room_choices(shop: ShopPort) -> list[tuple[int, str]]:
    return [(room.id, room.name) for room in shop.rooms()]


def _pairs(units: Sequence[str]) -> list[tuple[str, str]]:
    return [(unit, unit) for unit in units]


def _keep_tank(shop: ShopPort, name: str, tank: TankSetUp, hand: str, new: bool) -> None:
    if new:
        _check_new(name, shop.set_up(Part.TANKS))
    shop.keep_tank(name, tank, hand)


def _add_all(shop: ShopPort, names: list[str], hook: HookSetUp, hand: str) -> None:
    """After those that are there."""
    said = shop.set_up(Part.HOOKS)
    for name in names:
        _check_new(name, said, "names")
    last = max((each.order for each in hooks_set_up(said).values()), default=0)
    for name in names:
        shop.keep_hook(name, hook.model_copy(update={"order": last}), hand)


def _hook(shop: ShopPort, name: str) -> HookSetUp:
    found = hooks_set_up(shop.set_up(Part.HOOKS)).get(name)
    if found is None:
        raise _unknown(name)
    return found


def _here_lines(shop: ShopPort, part: Part) -> dict[str, str]:
    site, now = shop.site(), shop.clock.now()
    return {said.name: here_line(said, site, now) for said in shop.set_up(part)}


def _check_new(name: str, said: list[SetUp], field: str = "name") -> None:
    known = next((each.name for each in said if spelling(each.name) == spelling(name)), None)
    if known is not None:
        raise Conflict(
            "name_twice",
            say("There is a “{name}” already.", name=known),
            say("Change that one, or choose another name."),
            field,
        )


def _check_there(name: str, said: list[SetUp]) -> None:
    if all(each.name != name for each in said):
        raise _unknown(name)


def _unknown(name: str) -> NotFound:
    return NotFound(
        "set_up_unknown", say("There is no “{name}” here.", name=name), say("Choose one of the list.")
    )
