"""Setting up rooms: their names, the air assumed in them, and what hangs there."""

from __future__ import annotations

from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Form, Posted, TheReplays, TheShop, new_key
from api.forms import seen
from api.room_form import SHOWN_POINTS, fields_of, fittings_of
from api.set_up_words import here_line
from api.shop_port import ShopPort
from api.site_form import still_air_of
from api.templating import render
from service.errors import NotFound, ShopError
from service.records.shop_facts import Room
from service.room.room_fittings import RUNS_WORDS
from service.units import Units
from service.voice import later, say
from service.words import rooms as room_words
from service.words.numbers import speed, units_of

router = APIRouter(prefix="/set-up/rooms", include_in_schema=False)

OFFERED = {Units.METRIC: "0.2 m/s", Units.US: "40 ft/min"}
STILL_AIR = {
    Units.METRIC: later("Still air moves at about 0.2 m/s; with a fan across the room at 0.5 to 1 m/s."),
    Units.US: later("Still air moves at about 40 ft/min; with a fan across the room at 100 to 200 ft/min."),
}


@router.get("")
def rooms_page(request: Request, shop: TheShop) -> Response:
    """Every room, with its sensors and moulds."""
    return _page(request, shop, done=request.query_params.get("done", ""))


@router.post("")
def add_room(request: Request, shop: TheShop, replays: TheReplays, form: Posted) -> Response:
    """Another one."""
    try:
        name, still = form.need("name", say("Name of the room")), still_air_of(form)
        replays.once(form.key, (name, still), lambda: shop.add_room(name, still))
    except ShopError as problem:
        return _page(request, shop, form, problem)
    return _done(say("{room} is there now. Hang a sensor in it.", room=name))


@router.post("/{room_id}")
def change_room(request: Request, shop: TheShop, room_id: int, form: Posted) -> Response:
    """Its name, and the air assumed in it."""
    try:
        before = _known(shop, room_id)
        room = Room(room_id, form.need("name", say("Name of the room")), still_air_of(form))
        shop.change_room(room)
    except ShopError as problem:
        known = any(one.id == room_id for one in shop.rooms())
        return _page(request, shop, form, problem, about=room_id if known else None)
    return _done(_changed_line(shop, before, room))


@router.get("/{room_id}")
def room_page(request: Request, shop: TheShop, room_id: int) -> Response:
    """What stands in a room."""
    kept = shop.room_desk.kept(room_id)
    return _room_page(request, shop, room_id, fields_of(kept.fittings, units_of(shop.site())))


@router.post("/{room_id}/fittings")
def keep_fittings(
    request: Request, shop: TheShop, room_id: int, form: Posted, replays: TheReplays
) -> Response:
    """Keep what stands in it."""
    try:
        fittings = fittings_of(form)
        replays.once(
            form.key,
            ("fittings", room_id, fittings),
            lambda: shop.room_desk.keep(room_id, fittings, form.hand),
        )
    except ShopError as problem:
        return _room_page(request, shop, room_id, form, problem)
    return seen(f"/set-up/rooms/{room_id}?did=kept", form)


@router.post("/{room_id}/fittings/away")
def fittings_away(shop: TheShop, room_id: int, form: Posted) -> Response:
    """What site.toml says holds again, if anything."""
    shop.room_desk.take_back(room_id, form.hand)
    return seen(f"/set-up/rooms/{room_id}", form)


def _room_page(
    request: Request, shop: ShopPort, room_id: int, form: Form, problem: ShopError | None = None
) -> Response:
    kept, site, now = shop.room_desk.kept(room_id), shop.site(), shop.clock.now()
    learned = next((each for each in shop.room_desk.learned() if each.room.id == room_id), None)
    points = max(SHOWN_POINTS, len(kept.fittings.dehumidifier_points))
    us = units_of(site) is Units.US
    return render(
        request,
        "set_up_room.html",
        problem.status if problem else 200,
        room=kept.room,
        kept=kept,
        form=form,
        problem=problem,
        did=request.query_params.get("did", ""),
        key=form["key"] or new_key(),
        hands=shop.hands(),
        here_line=here_line(kept.said, site, now) if kept.said else "",
        learned=learned,
        points=range(1, points + 1),
        runs=[(runs.value, say(word)) for runs, word in RUNS_WORDS.items()],
        units=_units_of_fields(us),
        room_words=room_words,
    )


def _units_of_fields(us: bool) -> dict[str, list[str]]:
    """What each is offered in, the usual one first."""
    metric = {
        "volume": ["m³", "ft³"],
        "length": ["m", "ft"],
        "power": ["W", "kW"],
        "temperature": ["°C", "°F"],
        "speed": ["m/s", "ft/min"],
        "area": ["m²", "ft²"],
        "water": ["l/day", "pint/day", "kg/day"],
    }
    if not us:
        return metric
    us_first = {"water": ["pint/day", "l/day", "kg/day"], "power": ["W", "kW"]}
    return {name: us_first.get(name, offered[::-1]) for name, offered in metric.items()}


def _known(shop: ShopPort, room_id: int) -> Room:
    found = next((room for room in shop.rooms() if room.id == room_id), None)
    if found is None:
        raise NotFound(
            "room_unknown", say("There is no room {number}.", number=room_id), say("Choose one of the list.")
        )
    return found


def _changed_line(shop: ShopPort, before: Room, room: Room) -> str:
    if before.still_air_m_s == room.still_air_m_s:
        return say("{room} is kept.", room=room.name)
    air = speed(room.still_air_m_s, shop.site())
    return say(
        "{room} is kept, its air at {speed}. What hangs there was worked out anew: look at the board.",
        room=room.name,
        speed=air,
    )


def _done(words: str) -> Response:
    return seen(f"/set-up/rooms?done={quote(words, safe='')}")


def _page(
    request: Request,
    shop: ShopPort,
    form: Form | None = None,
    problem: ShopError | None = None,
    about: int | None = None,
    done: str = "",
) -> Response:
    units = units_of(shop.site())
    return render(
        request,
        "set_up_rooms.html",
        problem.status if problem else 200,
        rooms=shop.rooms(),
        sensors=shop.sensors(),
        moulds=shop.board().moulds,
        fittings=shop.room_desk.fittings(),
        room_words=room_words,
        still_air_hint=say(STILL_AIR[units]),
        offered=OFFERED[units],
        form=form or Form({}),
        problem=problem,
        about=about,
        done=done,
        key=form.key if form and about is None else new_key(),
    )
