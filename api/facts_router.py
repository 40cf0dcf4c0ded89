"""What is told of a mould as JSON: dips, wires, checks, notes, weights, its end, and corrections."""

from __future__ import annotations

from fastapi import APIRouter

from api.asked import Key, SentKey, TheShop
from api.correction import amended
from api.fact_models import (
    CheckIn,
    CorrectIn,
    DipIn,
    EndIn,
    FactOut,
    NoteIn,
    WeightIn,
    WiresIn,
    WithdrawIn,
    fact_out,
)
from api.models import WRITE
from api.result_models import ResultIn
from service.errors import BadInput
from service.voice import say

router = APIRouter(prefix="/api", tags=["what happened"], responses=WRITE)


@router.post("/moulds/{mould_id}/dips", status_code=201, summary="Record a dip")
def dip(shop: TheShop, mould_id: int, told: DipIn, key: Key, sent: SentKey = None) -> FactOut:
    if told.coat is None and sent is None:
        raise BadInput(
            "coat_or_key_missing",
            say("Sent again, this could record the same dip twice."),
            say("Say which coat it is, or send an Idempotency-Key of your own for each dip."),
            "coat",
        )
    fact = shop.dip(mould_id, told.tank, told.at, told.hand, key, told.early_reason or None, told.coat)
    return fact_out(fact, shop.site())


@router.post("/moulds/{mould_id}/wires", status_code=201, summary="Record that wires were set")
def wires(shop: TheShop, mould_id: int, told: WiresIn, key: Key) -> FactOut:
    return fact_out(shop.wires(mould_id, told.text, told.hand, key, told.at), shop.site())


@router.post("/moulds/{mould_id}/checks", status_code=201, summary="Record what a hand felt")
def check(shop: TheShop, mould_id: int, told: CheckIn, key: Key) -> FactOut:
    return fact_out(shop.check(mould_id, told.verdict, told.zone, told.hand, key, told.at), shop.site())


@router.post("/moulds/{mould_id}/notes", status_code=201, summary="Keep a note")
def note(shop: TheShop, mould_id: int, told: NoteIn, key: Key) -> FactOut:
    fact = shop.note(mould_id, told.text, told.hand, key, told.at, told.problem, told.over)
    return fact_out(fact, shop.site())


@router.post("/moulds/{mould_id}/weights", status_code=201, summary="Keep a weight")
def weigh(shop: TheShop, mould_id: int, told: WeightIn, key: Key) -> FactOut:
    if (told.mass is None) == (told.scale is None):
        raise BadInput(
            "weight_or_scale",
            say("It is not clear which weight is meant."),
            say("Send either its mass, or the scale that shows it."),
            "mass",
        )
    if told.scale is not None:
        return fact_out(shop.weigh_by_scale(mould_id, told.scale, told.hand, key, told.at), shop.site())
    return fact_out(shop.weigh(mould_id, told.mass or 0.0, told.hand, key, told.at), shop.site())


@router.post("/moulds/{mould_id}/end", status_code=201, summary="Record that a mould left the shell room")
def end(shop: TheShop, mould_id: int, told: EndIn, key: Key) -> FactOut:
    return fact_out(shop.end(mould_id, told.outcome, told.text, told.hand, key, told.at), shop.site())


@router.post("/moulds/{mould_id}/result", status_code=201, summary="Record how a mould came out")
def result(shop: TheShop, mould_id: int, told: ResultIn, key: Key) -> FactOut:
    return fact_out(shop.result(mould_id, told.body(), told.hand, key, told.at), shop.site())


@router.post("/facts/{number}/withdraw", status_code=201, summary="Take a record back")
def withdraw(shop: TheShop, number: int, told: WithdrawIn, key: Key) -> FactOut:
    return fact_out(shop.withdraw(number, told.hand, key, told.text), shop.site())


@router.post("/facts/{number}/correct", status_code=201, summary="Put a corrected record in the place of one")
def correct(shop: TheShop, number: int, told: CorrectIn, key: Key) -> FactOut:
    old = shop.records.fact(number)
    body = amended(old.body, told.changes())
    return fact_out(shop.correct(number, body, told.at or old.at, told.hand, key), shop.site())
