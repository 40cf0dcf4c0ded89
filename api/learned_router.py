"""What the shop taught and what was heard of a mould, as JSON; faces, and sensors on moulds, told."""

from __future__ import annotations

from fastapi import APIRouter

from api.asked import Key, TheShop
from api.fact_models import FactOut, fact_out
from api.learned_models import (
    FaceIn,
    HeardOut,
    LearnAnewIn,
    LearnedOut,
    OnMouldOut,
    SensorOnIn,
    heard_out,
    learned_out,
)
from api.learned_page import names_of
from api.models import READ, READ_ONE, WRITE

router = APIRouter(prefix="/api", tags=["learned"])


@router.get("/learned", summary="What this shop taught", responses=READ)
def learned(shop: TheShop) -> list[LearnedOut]:
    names = names_of(shop)
    return [learned_out(effect, names) for effect in shop.learned()]


@router.post("/learned/anew", status_code=201, summary="Learn one thing anew, or all", responses=WRITE)
def learn_anew(shop: TheShop, told: LearnAnewIn, key: Key) -> FactOut:
    """What was learned of it so far counts no more; withdraw the record, and it counts again."""
    effect = told.effect.value if told.effect else ""
    fact = shop.learn_anew(effect, told.of, told.text, told.hand, key)
    return fact_out(fact, shop.site(), rooms=shop.rooms())


@router.get(
    "/moulds/{mould_id}/heard", summary="What was heard of a mould, and what it said", responses=READ_ONE
)
def heard(shop: TheShop, mould_id: int) -> list[HeardOut]:
    shop.mould(mould_id)
    return heard_out(shop.heard(mould_id), shop.site(), shop.clock.now())


@router.post(
    "/moulds/{mould_id}/faces", status_code=201, summary="Record how warm a face is", responses=WRITE
)
def face(shop: TheShop, mould_id: int, told: FaceIn, key: Key) -> FactOut:
    fact = shop.record_face(mould_id, told.temperature, told.zone, told.hand, key, told.at)
    return fact_out(fact, shop.site())


@router.get("/moulds/{mould_id}/sensors", summary="Scales and probes that are on it now", responses=READ_ONE)
def sensors_on(shop: TheShop, mould_id: int) -> list[OnMouldOut]:
    shop.mould(mould_id)
    return [OnMouldOut.model_validate(each) for each in shop.sensors_on() if each.mould_id == mould_id]


@router.post(
    "/moulds/{mould_id}/sensors",
    status_code=201,
    summary="Say that a scale or probe is on a mould, or off",
    responses=WRITE,
)
def put_sensor_on(shop: TheShop, mould_id: int, told: SensorOnIn, key: Key) -> FactOut:
    fact = shop.put_sensor_on(mould_id, told.sensor, told.zone, told.hand, key, told.off, told.at)
    return fact_out(fact, shop.site())
