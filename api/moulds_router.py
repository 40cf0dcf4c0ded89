"""Moulds and the board as JSON."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query

from api.asked import Key, TheShop
from api.audit_models import AuditOut, audit_out
from api.fact_models import FactOut, fact_out
from api.models import READ, READ_ONE, WRITE
from api.mould_models import BoardOut, MouldChangeIn, MouldIn, MouldOut, board_out, mould_out
from api.shop_port import ShopPort
from service.records.facts import MouldBody, live
from service.records.recipes import Recipe

router = APIRouter(prefix="/api", tags=["moulds"])

Page = Annotated[int, Query(ge=1, description="Of those that left the shell room, a hundred each")]
Search = Annotated[str, Query(max_length=200, description="What name, piece or customer must hold")]


@router.get("/board", summary="Everything the wall-board shows", responses=READ)
def board(shop: TheShop) -> BoardOut:
    return board_out(shop.board())


@router.get(
    "/moulds", summary="Moulds in the shell room; with ended=true those that left it", responses=READ_ONE
)
def moulds(
    shop: TheShop,
    ended: Annotated[bool | None, Query(description="true: left; false: still here; left out: both")] = None,
    page: Page = 1,
    search: Search = "",
) -> list[MouldOut]:
    """Of those that left, a hundred at a time, the newest first."""
    site, now = shop.site(), shop.clock.now()
    here = [] if ended else shop.board().moulds
    left = [] if ended is False else shop.ended_moulds(page, search)
    return [mould_out(m, site, now) for m in (*here, *left)]


@router.get("/moulds/{mould_id}", summary="One mould as it stands", responses=READ_ONE)
def mould(shop: TheShop, mould_id: int) -> MouldOut:
    return mould_out(shop.mould(mould_id), shop.site(), shop.clock.now())


@router.post("/moulds", status_code=201, summary="Hang up a mould", responses=WRITE)
def start(shop: TheShop, told: MouldIn, key: Key) -> MouldOut:
    body = told.body(shop.shelf.get(told.recipe))
    started = shop.start_mould(body, told.hand, key, told.at)
    return mould_out(started, shop.site(), shop.clock.now())


@router.put(
    "/moulds/{mould_id}", summary="Change what is known of a mould; its recipe stays", responses=WRITE
)
def change(shop: TheShop, mould_id: int, told: MouldChangeIn, key: Key) -> MouldOut:
    changed = shop.change_mould(mould_id, told.body(_recipe(shop, mould_id)), told.hand, key, told.at)
    return mould_out(changed, shop.site(), shop.clock.now())


@router.get("/moulds/{mould_id}/facts", summary="Everything recorded of a mould", responses=READ_ONE)
def facts(shop: TheShop, mould_id: int) -> list[FactOut]:
    shop.mould(mould_id)
    known, rooms = shop.records.facts(mould_id), shop.rooms()
    return [fact_out(fact, shop.site(), known, rooms) for fact in known]


@router.get("/moulds/{mould_id}/audit", summary="Coats asked against given, facts, chart", responses=READ_ONE)
def audit(shop: TheShop, mould_id: int) -> AuditOut:
    return audit_out(shop.audit(mould_id), shop.site(), shop.rooms(), shop.clock.now())


def _recipe(shop: ShopPort, mould_id: int) -> Recipe:
    shop.mould(mould_id)
    return next(f.body.recipe for f in live(shop.records.facts(mould_id)) if isinstance(f.body, MouldBody))
