"""The shop itself as JSON: site, rooms, sensors, recipes, messages, health."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query

from api.air_models import PlaceIn, RejectOut, RoomNowOut, SensorOut, room_out, sensor_out
from api.asked import Key, TheReplays, TheShop
from api.message_models import AlertOut, HealthOut, RecipientOut, ReplyIn, TestMessageOut
from api.models import READ, READ_ONE, WRITE
from api.mould_models import TroubleOut
from api.recipe_models import RecipeIn, RecipeOut, recipe_out
from api.shop_port import ShopPort
from api.site_form import checked_site, checked_speed
from api.site_models import RoomIn, RoomOut, SiteIn, SiteOut
from service.errors import NotFound
from service.records.shop_facts import Room
from service.voice import say

router = APIRouter(prefix="/api", tags=["the shop"])

Limit = Annotated[int, Query(ge=1, le=500, description="How many, the newest first")]


@router.get("/site", summary="The shop; null before it is set up", responses=READ)
def site(shop: TheShop) -> SiteOut | None:
    known = shop.site()
    return SiteOut.model_validate(known) if known else None


@router.put("/site", summary="Set up or change the shop", responses=WRITE)
def save_site(shop: TheShop, told: SiteIn, key: Key) -> SiteOut:
    shop.save_site(checked_site(told.site()))
    return SiteOut.model_validate(told.site())


@router.get("/rooms", summary="Rooms and their air: now, the last day, as forecast", responses=READ)
def rooms(shop: TheShop) -> list[RoomNowOut]:
    return [room_out(room) for room in shop.board().rooms]


@router.post("/rooms", status_code=201, summary="Add a room", responses=WRITE)
def add_room(shop: TheShop, told: RoomIn, key: Key, replays: TheReplays) -> RoomOut:
    speed = checked_speed(told.still_air)
    room = replays.once(key, told, lambda: shop.add_room(told.name, speed))
    return RoomOut.model_validate(room)


@router.put("/rooms/{room_id}", summary="Change a room's name or assumed air speed", responses=WRITE)
def change_room(shop: TheShop, room_id: int, told: RoomIn, key: Key) -> RoomOut:
    _room(shop, room_id)
    changed = Room(room_id, told.name, checked_speed(told.still_air))
    shop.change_room(changed)
    return RoomOut.model_validate(changed)


@router.get("/sensors", summary="Every sensor that was heard", responses=READ)
def sensors(shop: TheShop) -> list[SensorOut]:
    return [sensor_out(sensor) for sensor in shop.sensors()]


@router.put("/sensors/{name:path}", summary="Say where a sensor hangs", responses=WRITE)
def place_sensor(shop: TheShop, name: str, told: PlaceIn, key: Key) -> SensorOut:
    shop.place_sensor(name, told.room_id)
    placed = next((s for s in shop.sensors() if s.name == name), None)
    if placed is None:
        raise NotFound(
            "sensor_unknown",
            say("No sensor “{name}” was ever heard.", name=name),
            say("Check its name and topic."),
        )
    return sensor_out(placed)


@router.get("/rejects", summary="Messages that were not taken, with the reason", responses=READ_ONE)
def rejects(shop: TheShop, limit: Limit = 50) -> list[RejectOut]:
    return [RejectOut.model_validate(reject) for reject in shop.rejects(limit)]


@router.get("/recipes", summary="Every recipe on the shelf", responses=READ)
def recipes(shop: TheShop) -> list[RecipeOut]:
    return [recipe_out(recipe) for recipe in shop.shelf.all()]


@router.get("/recipes/{name}", summary="One recipe", responses=READ_ONE)
def recipe(shop: TheShop, name: str) -> RecipeOut:
    return recipe_out(shop.shelf.get(name))


@router.post("/recipes", status_code=201, summary="Check a recipe's text and keep it", responses=WRITE)
def keep_recipe(shop: TheShop, told: RecipeIn, key: Key) -> RecipeOut:
    return recipe_out(shop.recipes.keep(told.toml))


@router.get("/alerts", summary="Messages told and whether they arrived", responses=READ_ONE)
def alerts(shop: TheShop, limit: Limit = 50) -> list[AlertOut]:
    return [AlertOut.model_validate(alert) for alert in shop.alerts(limit)]


@router.post(
    "/alerts/{alert_id}/reply", summary="Say that somebody comes, or later, or not after all", responses=WRITE
)
def reply(shop: TheShop, alert_id: int, told: ReplyIn, key: Key) -> AlertOut:
    """The same said again while it holds changes nothing."""
    return AlertOut.model_validate(shop.reply_to_alert(alert_id, told.person, told.said))


@router.get("/recipients", summary="Who is told of what, when, and by which ways", responses=READ)
def recipients(shop: TheShop) -> list[RecipientOut]:
    return [RecipientOut.model_validate(one) for one in shop.who_is_told()]


@router.post("/test-message", summary="Send a test message by every way of everybody", responses=WRITE)
def test_message(shop: TheShop, key: Key, replays: TheReplays) -> TestMessageOut:
    return TestMessageOut(told=replays.once(key, "test message", shop.send_test_message))


@router.get("/health", summary="How coatbell itself is", responses=READ)
def health(shop: TheShop) -> HealthOut:
    return _health(shop)


@router.post("/clock-is-right", summary="Say that this machine's clock is right", responses=WRITE)
def clock_is_right(shop: TheShop, key: Key) -> HealthOut:
    """Wanted only after its clock had been ahead: coatbell waits for what it takes for the past to end."""
    shop.trust_clock()
    return _health(shop)


def _health(shop: ShopPort) -> HealthOut:
    board = shop.board()
    troubles = [TroubleOut.model_validate(trouble) for trouble in board.troubles]
    status = "trouble" if troubles else "ok"
    return HealthOut(
        status=status, at=board.at, moulds=len(board.moulds), board_version=board.version, troubles=troubles
    )


def _room(shop: ShopPort, room_id: int) -> None:
    if all(room.id != room_id for room in shop.rooms()):
        raise NotFound(
            "room_unknown",
            say("There is no room number {room_id}.", room_id=room_id),
            say("Add the room first."),
            "room_id",
        )
