"""The slurry tanks: how each was last found, and telling how it is now."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Form, Posted, TheShop, new_key
from api.correction import corrected_time, minute_of, said_before
from api.fact_words import fact_line
from api.forms import seen, time_of
from api.mould_page import MINUTES_AGO
from api.shop_port import ShopPort
from api.tank_form import DENSITY_UNITS, TEMPERATURE_UNITS, WATER_UNITS, body_of, fields_of
from api.templating import render
from service.errors import NotFound, ShopError
from service.records.facts import Fact, TankCheckBody
from service.records.plain import spelling
from service.records.set_up import Part
from service.room.fittings import tanks_set_up
from service.units import Units
from service.voice import say
from service.words.numbers import units_of

router = APIRouter(prefix="/tanks", include_in_schema=False)

MOST_SHOWN = 6


@router.get("")
def tanks_page(request: Request, shop: TheShop, did: int | None = None, tank: str = "") -> Response:
    """All tanks. `did`: what was just recorded; `tank`: the one to be checked now."""
    return _page(request, shop, did=did, chosen=tank)


@router.post("/check")
def check(request: Request, shop: TheShop, form: Posted) -> Response:
    """Record one."""
    try:
        fact = shop.tank_check(body_of(form), form.hand, form.key, time_of(form, request, shop))
    except ShopError as problem:
        return _page(request, shop, problem, form)
    return seen(f"/tanks?did={fact.number}", form)


@router.get("/fact/{number}")
def correct_page(request: Request, shop: TheShop, number: int) -> Response:
    """One check, to be corrected."""
    return _correct_page(request, shop, number)


@router.post("/fact/{number}")
def correct(request: Request, shop: TheShop, number: int, form: Posted) -> Response:
    """Put a corrected one in its place."""
    try:
        fact = _find(shop, number, form.key)
        at = corrected_time(fact, form, shop.site(), shop.clock.now())
        new = shop.correct(number, body_of(form), at, form.hand, form.key)
    except ShopError as problem:
        return _correct_page(request, shop, number, problem, form)
    return seen(f"/tanks?did={new.number}", form)


@router.post("/fact/{number}/withdraw")
def withdraw(request: Request, shop: TheShop, number: int, form: Posted) -> Response:
    """Take one back."""
    try:
        if not isinstance(shop.records.fact(number).body, TankCheckBody):
            raise _unknown(number)
        shop.withdraw(number, form.hand, form.key)
    except ShopError as problem:
        return _page(request, shop, problem)
    return seen("/tanks", form)


@router.post("/fact/{number}/undo")
def undo(request: Request, shop: TheShop, number: int, form: Posted) -> Response:
    """Take a correction back, and not the check: what was said before it holds again."""
    try:
        before = said_before(shop.records, number, None)
        back = shop.correct(number, before.body, before.at, form.hand, form.key)
    except ShopError as problem:
        return _page(request, shop, problem)
    return seen(f"/tanks?did={back.number}", form)


def _find(shop: ShopPort, number: int, key: str | None = None) -> Fact:
    """A tank's check that holds, or that `key` corrected. Raises NotFound."""
    checks = shop.tank_checks()
    if key is not None and any(fact.replaces == number and fact.key == key for fact in checks):
        return shop.records.fact(number)
    found = next((fact for fact in checks if fact.number == number), None)
    if found is None:
        raise _unknown(number)
    return found


def _unknown(number: int) -> NotFound:
    return NotFound(
        "fact_unknown",
        say("There is no check {number} of a tank that could be corrected.", number=number),
        say("Look at the page “Tanks”."),
    )


def _page(
    request: Request,
    shop: ShopPort,
    problem: ShopError | None = None,
    form: Form | None = None,
    did: int | None = None,
    chosen: str = "",
) -> Response:
    tanks, set_up = shop.tanks_now(), tanks_set_up(shop.set_up(Part.TANKS))
    done = next((fact for tank in tanks for fact in tank.checks if fact.number == did), None)
    context = {
        **_fields(shop, form or Form({"tank": chosen}), problem),
        "tanks": tanks,
        "set_up": {spelling(name): tank for name, tank in set_up.items()},
        "spelling": spelling,
        "most": MOST_SHOWN,
        "did": (done, fact_line(done, shop.site())) if done else None,
    }
    return render(request, "tanks.html", problem.status if problem else 200, **context)


def _correct_page(
    request: Request,
    shop: ShopPort,
    number: int,
    problem: ShopError | None = None,
    form: Form | None = None,
) -> Response:
    fact = _find(shop, number)
    assert isinstance(fact.body, TankCheckBody)
    context = {
        **_fields(shop, form or fields_of(fact.body, shop.site()), problem),
        "fact": fact,
        "line": fact_line(fact, shop.site()),
        "minute": minute_of(fact, shop.site()),
    }
    return render(request, "tank_correct.html", problem.status if problem else 200, **context)


def _names(shop: ShopPort) -> list[str]:
    """Those that are offered first, then whatever else was checked and is in use."""
    away = {spelling(s.name) for s in shop.set_up(Part.TANKS) if s.body and s.body.get("out_of_use")}
    checked = [tank.name for tank in shop.tanks_now() if spelling(tank.name) not in away]
    return list(dict.fromkeys([*shop.tanks(), *checked]))


def _fields(shop: ShopPort, form: Form, problem: ShopError | None) -> dict[str, Any]:
    """What the fields of a check need."""
    site = shop.site()
    us = units_of(site) is Units.US
    return {
        "form": form,
        "problem": problem,
        "key": form["key"] or new_key(),
        "names": _names(shop),
        "hands": shop.hands(),
        "minutes_ago": MINUTES_AGO,
        "temperature_units": TEMPERATURE_UNITS[::-1] if us else TEMPERATURE_UNITS,
        "density_units": DENSITY_UNITS[::-1] if us else DENSITY_UNITS,
        "water_units": WATER_UNITS,
    }
