"""What if, and what rooms taught, as JSON."""

from __future__ import annotations

from fastapi import APIRouter

from api.asked import TheShop
from api.models import READ, READ_ONE
from api.what_if_models import LearnedRoomOut, WhatIfIn, WhatThenOut, learned_room_out, what_then_out

router = APIRouter(prefix="/api", tags=["what if"])


@router.post("/what-if", summary="What a change does to every mould; records nothing", responses=READ_ONE)
def what_if(shop: TheShop, told: WhatIfIn) -> WhatThenOut:
    """Takes some seconds at most. One question at a time: another waits for it."""
    return what_then_out(shop.room_desk.what_if(told.asked(shop.clock.now())))


@router.get("/learned/rooms", summary="What each room's readings taught", responses=READ)
def learned_rooms(shop: TheShop) -> list[LearnedRoomOut]:
    return [learned_room_out(each) for each in shop.room_desk.learned()]
