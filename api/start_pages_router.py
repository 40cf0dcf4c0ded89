"""Setting up a shop, step by step."""

from __future__ import annotations

from typing import Any
from zoneinfo import available_timezones

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from api.asked import Form, Posted, TheReplays, TheSettings, TheShop, new_key
from api.forms import seen
from api.mould_list_router import form_context
from api.settings import ApiSettings
from api.shop_port import ShopPort
from api.site_form import site_of, still_air_of
from api.start_page import next_step, steps_of
from api.templating import render
from api.yours_pages_router import LANGUAGES
from service.errors import ShopError
from service.listening import ReadBy
from service.units import Units
from service.voice import say, voice
from service.words.numbers import units_of

FOOT_M = 0.3048
HOURS = [(hour, f"{hour}:00") for hour in range(25)]

router = APIRouter(prefix="/start", include_in_schema=False)


@router.get("")
def start(shop: TheShop) -> Response:
    """On to the first step not done yet."""
    return RedirectResponse(f"/start/{next_step(shop)}", 303)


@router.get("/site")
def site_page(request: Request, shop: TheShop) -> Response:
    """What the shop is called and where it stands."""
    return _site_page(request, shop, Form(_site_fields(shop)))


@router.post("/site")
def keep_site(request: Request, shop: TheShop, form: Posted) -> Response:
    """Keep it."""
    first = shop.site() is None
    try:
        shop.save_site(site_of(form))
    except ShopError as problem:
        return _site_page(request, shop, form, problem)
    return seen("/start/room" if first else "/set-up")


@router.get("/room")
def room_page(request: Request, shop: TheShop) -> Response:
    """Where shells hang."""
    return _page(request, shop, "room", rooms=shop.rooms())


@router.post("/room")
def add_room(request: Request, shop: TheShop, form: Posted, replays: TheReplays) -> Response:
    """Add it."""
    try:
        name, still = form.need("name", say("Name of the room")), still_air_of(form)
        replays.once(form.key, (name, still), lambda: shop.add_room(name, still))
    except ShopError as problem:
        return _page(request, shop, "room", problem, form, rooms=shop.rooms())
    return seen("/start/sensor")


@router.get("/sensor")
def sensor_page(request: Request, shop: TheShop, settings: TheSettings) -> Response:
    """What was heard so far, and how to be heard."""
    return _sensor_page(request, shop, settings)


@router.post("/sensor")
def place_sensor(request: Request, shop: TheShop, settings: TheSettings, form: Posted) -> Response:
    """Say where it hangs."""
    try:
        shop.place_sensor(form.need("sensor", say("Sensor")), form.whole("room_id", say("Room")))
    except ShopError as problem:
        return _sensor_page(request, shop, settings, problem)
    return seen("/start/sensor")


@router.get("/recipe")
def recipe_page(request: Request, shop: TheShop) -> Response:
    """Choose one to begin with, or write one."""
    return _page(request, shop, "recipe", recipes=shop.shelf.all())


@router.get("/mould")
def mould_page(request: Request, shop: TheShop, recipe: str = "") -> Response:
    """The first mould."""
    context = form_context(shop, Form({"recipe": recipe})) | {"step": "mould", "steps": steps_of(shop)}
    return render(request, "mould_form.html", **context)


def _site_page(request: Request, shop: ShopPort, form: Form, problem: ShopError | None = None) -> Response:
    return _page(
        request,
        shop,
        "site",
        problem,
        form,
        zones=sorted(available_timezones()),
        hour_choices=HOURS,
        languages=LANGUAGES,
    )


def _sensor_page(
    request: Request, shop: ShopPort, settings: ApiSettings, problem: ShopError | None = None
) -> Response:
    return _page(
        request,
        shop,
        "sensor",
        problem,
        rooms=shop.rooms(),
        sensors=shop.sensors(),
        rejects=shop.rejects(5),
        unread=[one.topic for one in shop.topics.now() if one.heard and one.heard.read_by is ReadBy.NOBODY],
        settings=settings,
    )


def _page(
    request: Request,
    shop: ShopPort,
    step: str,
    problem: ShopError | None = None,
    form: Form | None = None,
    **context: Any,
) -> Response:
    return render(
        request,
        f"start_{step}.html",
        problem.status if problem else 200,
        step=step,
        steps=steps_of(shop),
        problem=problem,
        form=form or Form({}),
        key=form.key if form else new_key(),
        **context,
    )


def _site_fields(shop: ShopPort) -> dict[str, str]:
    site = shop.site()
    if site is None:
        return {
            "day_starts_hour": "7",
            "day_ends_hour": "19",
            "units": "metric",
            "language": voice().language,
        }
    us = units_of(site) is Units.US
    height, unit = (site.altitude_m / FOOT_M, "ft") if us else (site.altitude_m, "m")
    return {
        "name": site.name,
        "altitude": f"{round(height, 3):g}",
        "altitude_unit": unit,
        "time_zone": site.time_zone,
        "units": site.units,
        "language": site.language,
        "day_starts_hour": str(site.day_starts_hour),
        "day_ends_hour": str(site.day_ends_hour),
    }
