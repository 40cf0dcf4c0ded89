"""Air: rooms, sensors, and messages that were not taken."""

from __future__ import annotations

from datetime import timedelta

from fastapi import APIRouter
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from api.air_figure import DAYS, AirRow, air_figure, air_table, days_of, days_said, wanted_by
from api.asked import Form, Posted, TheReplays, TheSettings, TheShop, new_key
from api.forms import seen
from api.settings import ApiSettings
from api.shop_port import ShopPort
from api.site_form import still_air_of
from api.templating import render
from service.errors import NotFound, ShopError
from service.records.shop_facts import Room
from service.room.views import Board, RoomNow
from service.voice import say

router = APIRouter(prefix="/air", include_in_schema=False)

MOST_REJECTS = 30


@router.get("")
def air_page(request: Request, shop: TheShop, settings: TheSettings, days: int = DAYS[0]) -> Response:
    """The air of every room over some days, and how old it is."""
    try:
        return _page(request, shop, settings, days=days_of(days))
    except ShopError as problem:
        return _page(request, shop, settings, problem)


@router.post("/room")
def add_room(
    request: Request, shop: TheShop, settings: TheSettings, replays: TheReplays, form: Posted
) -> Response:
    """Another room."""
    try:
        name, still = form.need("name", say("Name of the room")), still_air_of(form)
        replays.once(form.key, (name, still), lambda: shop.add_room(name, still))
    except ShopError as problem:
        return _page(request, shop, settings, problem, form)
    return seen("/air")


@router.post("/room/{room_id}")
def change_room(
    request: Request, shop: TheShop, settings: TheSettings, room_id: int, form: Posted
) -> Response:
    """Its name and the air speed assumed in it."""
    try:
        shop.change_room(
            Room(_known(shop, room_id), form.need("name", say("Name of the room")), still_air_of(form))
        )
    except ShopError as problem:
        return _page(request, shop, settings, problem, form)
    return seen("/air")


@router.post("/sensor")
def place_sensor(request: Request, shop: TheShop, settings: TheSettings, form: Posted) -> Response:
    """Where a sensor hangs."""
    try:
        room_id = form.whole("room_id", say("Room")) if form["room_id"] else None
        shop.place_sensor(form.need("sensor", say("Sensor")), room_id)
    except ShopError as problem:
        return _page(request, shop, settings, problem, form)
    return seen("/air")


def _known(shop: ShopPort, room_id: int) -> int:
    if all(room.id != room_id for room in shop.rooms()):
        raise NotFound(
            "room_unknown", say("There is no room {number}.", number=room_id), say("Choose one of the list.")
        )
    return room_id


def _page(
    request: Request,
    shop: ShopPort,
    settings: ApiSettings,
    problem: ShopError | None = None,
    form: Form | None = None,
    days: int = DAYS[0],
) -> Response:
    board = shop.board()
    return render(
        request,
        "air.html",
        problem.status if problem else 200,
        board=board,
        rooms_now=[(room, *_drawn(shop, board, room, days)) for room in board.rooms],
        days=days,
        every_days=[(each, days_said(each)) for each in DAYS],
        rooms=shop.rooms(),
        sensors=shop.sensors(),
        sensors_on=shop.sensors_on(),
        rejects=shop.rejects(MOST_REJECTS),
        settings=settings,
        problem=problem,
        form=form or Form({}),
        key=form.key if form else new_key(),
    )


def _drawn(shop: ShopPort, board: Board, room: RoomNow, days: int) -> tuple[Markup | None, list[AirRow]]:
    """A room's air as a chart, and as a table."""
    points = shop.air_since(room.room.id, board.at - timedelta(days=days))
    wanted = wanted_by(board.moulds, room.room.id)
    drawn = air_figure(room, points, wanted, board.site, board.at, days)
    return drawn, air_table(points, board.site, board.at, days)
