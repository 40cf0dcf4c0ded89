"""Setting up sensors: what is heard on the broker, and what it means."""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Form, Posted, TheSettings, TheShop, new_key
from api.forms import seen
from api.sensor_form import Row, decoded_line, meanings, of_air, often_line, rows_of, table_of
from api.shop_port import ShopPort
from api.start_page import next_step
from api.templating import render
from service.errors import BadInput, ShopError
from service.listening import Proposal, ReadBy, Table, Tried
from service.topic_desk import TopicNow, names_in
from service.voice import say

router = APIRouter(prefix="/set-up/sensors", include_in_schema=False)


@router.get("")
def sensors_page(request: Request, shop: TheShop, settings: TheSettings) -> Response:
    """Every topic heard since the start: not read yet, read, passed over."""
    now = shop.topics.now()
    return render(
        request,
        "set_up_sensors.html",
        unread=[one for one in now if _read_by(one) is ReadBy.NOBODY],
        read=[one for one in now if one.own or _read_by(one) is ReadBy.FILE],
        passed_over=[one for one in now if not one.own and _read_by(one) is ReadBy.PASSED_OVER],
        room_of=_room_names(shop),
        names_in=names_in,
        often_line=often_line,
        settings=settings,
        adopted=request.query_params.get("adopted", ""),
        first_run=next_step(shop) == "recipe",
    )


@router.get("/topic")
def topic_page(request: Request, shop: TheShop, topic: str) -> Response:
    """What is in its newest message, and what it may be."""
    return _topic_page(request, shop, shop.topics.propose(topic))


@router.post("/topic")
def adopt(request: Request, shop: TheShop, form: Posted) -> Response:
    """Try it out, or read it so from now on."""
    proposal = shop.topics.propose(form["topic"])
    if form["do"] == "look":
        return _topic_page(request, shop, proposal, form)
    try:
        table = table_of(proposal, rows_of(proposal, form), form)
        tried = shop.topics.try_out(proposal.heard.topic, table)
        _check_plausible(tried, form)
        room_id = form.whole("room_id", say("Room")) if form["room_id"] else None
        shop.topics.adopt(proposal.heard.topic, table, room_id, form.hand)
    except ShopError as problem:
        return _topic_page(request, shop, proposal, form, problem)
    return seen(f"/set-up/sensors?adopted={quote(', '.join(_names(tried, table)), safe='')}", form)


@router.post("/forget")
def forget(request: Request, shop: TheShop, form: Posted) -> Response:
    """Read it no more, or as sensors.toml says."""
    shop.topics.forget(form["topic"], form.hand, take_down=form["take_down"] == "yes")
    return seen("/set-up/sensors", form)


def _topic_page(
    request: Request,
    shop: ShopPort,
    proposal: Proposal,
    form: Form | None = None,
    problem: ShopError | None = None,
) -> Response:
    rows = rows_of(proposal, form)
    given = form or Form({"sensor": proposal.sensor})
    return render(
        request,
        "set_up_topic.html",
        problem.status if problem else 200,
        proposal=proposal,
        rows=rows,
        meanings=meanings(rows),
        lines=_lines(shop, proposal, given, rows),
        of_air=of_air(rows),
        many_send="sensor_field" in (proposal.read or {}),
        room_choices=[(room.id, room.name) for room in shop.rooms()],
        room_id=_room_chosen(shop, given, of_air(rows)),
        form=given,
        problem=problem,
        key=new_key(),
    )


def _lines(shop: ShopPort, proposal: Proposal, form: Form, rows: Sequence[Row]) -> dict[str, str]:
    """What each number that is read comes out as, by its field."""
    try:
        named = Form({**form, "sensor": form["sensor"] or "?"})
        table = table_of(proposal, rows, named)
        tried = shop.topics.try_out(proposal.heard.topic, table)
    except ShopError:
        return {}
    return {one.field or "": decoded_line(one, shop.site()) for one in tried}


def _check_plausible(tried: list[Tried], form: Form) -> None:
    wrong = next((one for one in tried if not one.plausible), None)
    if wrong is None or form["all_the_same"] == "yes":
        return
    raise BadInput(
        "value_implausible",
        say("As it stands this would not be taken. {why}", why=wrong.words),
        say("Choose another unit; or tick “Keep it all the same” if the sensor was wrong only this once."),
        "all_the_same",
    )


def _names(tried: list[Tried], table: Table) -> list[str]:
    return sorted({one.sensor for one in tried if one.sensor}) or names_in(table)


def _read_by(one: TopicNow) -> ReadBy | None:
    return one.heard.read_by if one.heard else None


def _room_chosen(shop: ShopPort, form: Form, of_air: bool) -> str:
    """As chosen; where the sensor hangs already; else the only sensible one: the first, and none for a scale."""
    if "room_id" in form:
        return form["room_id"]
    hung = next((one.room_id for one in shop.sensors() if one.name == form["sensor"]), None)
    rooms = shop.rooms()
    return str(hung or (rooms[0].id if of_air and rooms else ""))


def _room_names(shop: ShopPort) -> dict[str, str]:
    """Where each sensor hangs, by its name."""
    called = {room.id: room.name for room in shop.rooms()}
    return {one.name: called[one.room_id] for one in shop.sensors() if one.room_id in called}
