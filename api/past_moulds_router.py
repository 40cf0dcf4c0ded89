"""The list of moulds that left the shell room, as JSON."""

from __future__ import annotations

from datetime import datetime

from fastapi import APIRouter

from api.asked import TheShop
from api.models import EXAMPLE_TIME, READ_ONE, Out, example
from api.moulds_router import Page, Search

router = APIRouter(prefix="/api", tags=["moulds"])

ROW = {
    "id": 12,
    "name": "Heron",
    "piece": "Heron, large",
    "customer": "Saltmarsh Bronze",
    "outcome": "dewaxed",
    "started_at": EXAMPLE_TIME,
    "ended_at": EXAMPLE_TIME,
    "coats_given": 9,
    "coats_total": 9,
    "verdict": "failed",
    "faults": ["run-out"],
}


class PastMouldOut(Out):
    """One that left, in short; `/api/moulds/{mould_id}` tells all of it."""

    model_config = example(ROW)
    id: int
    name: str
    piece: str
    customer: str
    outcome: str
    started_at: datetime
    ended_at: datetime
    coats_given: int
    coats_total: int
    verdict: str | None
    faults: list[str]


class PastMouldsOut(Out):
    """One page of them, the newest first. `total`: on all pages."""

    model_config = example({"rows": [ROW], "total": 1, "page": 1, "pages": 1})
    rows: list[PastMouldOut]
    total: int
    page: int
    pages: int


@router.get("/past-moulds", summary="Moulds that left the shell room, in short", responses=READ_ONE)
def past_moulds(shop: TheShop, page: Page = 1, search: Search = "") -> PastMouldsOut:
    return PastMouldsOut.model_validate(shop.past_moulds(page, search))
