"""The phone page of a mould, and what its buttons record."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from fastapi import APIRouter
from pydantic import ValidationError
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Form, Posted, TheShop
from api.forms import seen, time_of
from api.mould_page import page_context
from api.problem_words import told
from api.reply_pages_router import said_in
from api.shop_port import Outcome, ShopPort, Verdict
from api.templating import render
from service.alerts.replies import Said
from service.errors import BadInput, ShopError
from service.records.facts import Fact, Problem
from service.units import Dimension
from service.voice import say

Word = TypeVar("Word", bound=str)

router = APIRouter(prefix="/mould/{mould_id}", include_in_schema=False)

VERDICTS: dict[str, Verdict] = {"still damp": "still damp", "dry": "dry"}
PROBLEMS: dict[str, Problem] = {problem.value: problem for problem in Problem}
OUTCOMES: dict[str, Outcome] = {"dewaxed": "dewaxed", "failed": "failed", "scrapped": "scrapped"}


@router.get("")
def mould_page(request: Request, shop: TheShop, mould_id: int, did: int | None = None) -> Response:
    """What to do now with one mould."""
    return render(request, "mould.html", **page_context(shop, mould_id, did))


@router.post("/dip")
def dip(request: Request, shop: TheShop, mould_id: int, form: Posted) -> Response:
    def record() -> Fact:
        tank = form["tank_other"] or form.need("tank", say("Tank"))
        at = time_of(form, request, shop)
        coat = form.whole("coat", say("Coat")) if form["coat"] else None
        return shop.dip(mould_id, tank, at, form.hand, form.key, form["early_reason"] or None, coat)

    return _recorded(request, shop, mould_id, form, "dip", record)


@router.post("/wires")
def wires(request: Request, shop: TheShop, mould_id: int, form: Posted) -> Response:
    def record() -> Fact:
        return shop.wires(mould_id, form["text"], form.hand, form.key, time_of(form, request, shop))

    return _recorded(request, shop, mould_id, form, "wires", record)


@router.post("/check")
def check(request: Request, shop: TheShop, mould_id: int, form: Posted) -> Response:
    def record() -> Fact:
        verdict = _one_of(form, "verdict", VERDICTS)
        return shop.check(
            mould_id, verdict, form["zone"] or None, form.hand, form.key, time_of(form, request, shop)
        )

    return _recorded(request, shop, mould_id, form, "check", record)


@router.post("/note")
def note(request: Request, shop: TheShop, mould_id: int, form: Posted) -> Response:
    def record() -> Fact:
        text = form.need("text", say("Note"))
        return shop.note(mould_id, text, form.hand, form.key, time_of(form, request, shop))

    return _recorded(request, shop, mould_id, form, "note", record)


@router.post("/problem")
def problem(request: Request, shop: TheShop, mould_id: int, form: Posted) -> Response:
    """Something is wrong, or was put right."""

    def record() -> Fact:
        kind = _one_of(form, "problem", PROBLEMS)
        at, over = time_of(form, request, shop), bool(form["over"])
        return shop.note(mould_id, form["text"], form.hand, form.key, at, kind, over)

    return _recorded(request, shop, mould_id, form, "problem", record)


@router.get("/scales")
def scales(request: Request, shop: TheShop, mould_id: int) -> Response:
    """What the scales show now: fetched by the mould's page while somebody weighs."""
    return render(request, "_scales.html", scales=shop.scales())


@router.post("/weigh")
def weigh(request: Request, shop: TheShop, mould_id: int, form: Posted) -> Response:
    def record() -> Fact:
        at = time_of(form, request, shop)
        if form["scale"]:
            return shop.weigh_by_scale(mould_id, form["scale"], form.hand, form.key, at)
        form.need("mass", say("Weight"))
        mass_kg = form.quantity("mass", Dimension.MASS) or 0.0
        return shop.weigh(mould_id, mass_kg, form.hand, form.key, at)

    return _recorded(request, shop, mould_id, form, "weigh", record)


@router.post("/face")
def face(request: Request, shop: TheShop, mould_id: int, form: Posted) -> Response:
    """How warm a face is, read off an infrared gun."""

    def record() -> Fact:
        form.need("temperature", say("Temperature of a face"))
        kelvin = form.quantity("temperature", Dimension.TEMPERATURE) or 0.0
        zone, at = form["zone"] or None, time_of(form, request, shop)
        return shop.record_face(mould_id, kelvin, zone, form.hand, form.key, at)

    return _recorded(request, shop, mould_id, form, "face", record)


@router.post("/sensor")
def sensor(request: Request, shop: TheShop, mould_id: int, form: Posted) -> Response:
    """A scale or a probe is on it from now on, or no longer."""

    def record() -> Fact:
        name, zone, off = form.need("sensor", say("Sensor")), form["zone"] or None, bool(form["off"])
        at = time_of(form, request, shop)
        return shop.put_sensor_on(mould_id, name, zone, form.hand, form.key, off, at)

    return _recorded(request, shop, mould_id, form, "sensor", record)


@router.post("/end")
def end(request: Request, shop: TheShop, mould_id: int, form: Posted) -> Response:
    def record() -> Fact:
        outcome = _one_of(form, "outcome", OUTCOMES)
        return shop.end(mould_id, outcome, form["text"], form.hand, form.key, time_of(form, request, shop))

    return _recorded(request, shop, mould_id, form, "end", record)


@router.post("/reply")
def reply(request: Request, shop: TheShop, mould_id: int, form: Posted) -> Response:
    """Say that somebody comes, or later, or not after all."""
    try:
        shop.reply_to_mould(mould_id, form.need("hand", say("Who")), said_in(form["said"]))
    except ShopError as problem:
        context = page_context(shop, mould_id, problem=problem, form=form, asked="reply")
        return render(request, "mould.html", problem.status, **context)
    return seen(f"/mould/{mould_id}#coming", None if form["said"] == Said.TAKEN_BACK else form)


def _recorded(
    request: Request, shop: ShopPort, mould_id: int, form: Form, asked: str, record: Callable[[], Fact]
) -> Response:
    """On to the page with what was recorded; or the form again with what is wrong."""
    try:
        fact = record()
    except (ShopError, ValidationError) as error:
        problem = error if isinstance(error, ShopError) else told(error.errors()[0])
        context = page_context(shop, mould_id, problem=problem, form=form, asked=asked)
        return render(request, "mould.html", problem.status, **context)
    return seen(f"/mould/{mould_id}?did={fact.number}", form)


def _one_of(form: Form, name: str, known: dict[str, Word]) -> Word:
    if form[name] not in known:
        raise BadInput(
            "not_known",
            say("“{word}” is not known here.", word=form[name]),
            say("Choose one of these: {words}.", words=", ".join(known)),
            name,
        )
    return known[form[name]]
