"""Several dips from one tank told at once, as JSON."""

from __future__ import annotations

from fastapi import APIRouter

from api.asked import Key, TheShop
from api.dips_models import RefusedOut, SeveralDipIn, SeveralDipsIn, SeveralDipsOut
from api.fact_models import fact_out
from api.models import WRITE, Problem
from api.several_dips import OneDip, Refused, dip_several

router = APIRouter(prefix="/api", tags=["what happened"], responses=WRITE)


@router.post("/dips", summary="Record several dips from one tank, each on its own")
def dips(shop: TheShop, told: SeveralDipsIn, key: Key) -> SeveralDipsOut:
    """What is refused for one mould loses none of the others: look into `refused`, and send those again."""
    asked = [_one(each, told, key) for each in told.dips]
    recorded, refused = dip_several(shop, told.tank, asked, told.hand)
    site = shop.site()
    return SeveralDipsOut(
        recorded=[fact_out(fact, site) for fact in recorded], refused=[_refused(each) for each in refused]
    )


def _one(each: SeveralDipIn, told: SeveralDipsIn, key: str) -> OneDip:
    own = each.key or f"{key}-{each.mould_id}-{each.coat}"
    return OneDip(each.mould_id, own, each.coat, each.at or told.at, each.early_reason or "")


def _refused(each: Refused) -> RefusedOut:
    said = each.problem
    error = Problem(code=said.code, message=said.message, todo=said.todo, field=said.field)
    return RefusedOut(mould_id=each.dip.mould_id, error=error)
