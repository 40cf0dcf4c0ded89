"""Slurry tanks as JSON."""

from __future__ import annotations

from fastapi import APIRouter

from api.asked import Key, TheShop
from api.fact_models import FactOut, fact_out
from api.models import READ, WRITE
from api.tank_models import TankCheckIn, TankOut, tank_out

router = APIRouter(prefix="/api/tanks", tags=["the shop"])


@router.get("", summary="Slurry tanks, with the last checks of each", responses=READ)
def tanks(shop: TheShop) -> list[TankOut]:
    now = shop.clock.now()
    return [tank_out(tank, now) for tank in shop.tanks_now()]


@router.post("/checks", status_code=201, summary="Record a check of a tank", responses=WRITE)
def check(shop: TheShop, told: TankCheckIn, key: Key) -> FactOut:
    return fact_out(shop.tank_check(told.body(), told.hand, key, told.at), shop.site())
