"""What failures share as JSON."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query

from api.asked import TheShop
from api.failure_links import looked_of
from api.failure_models import FailuresOut, failures_out
from api.models import READ_ONE

router = APIRouter(prefix="/api", tags=["moulds"])


@router.get("/failures", summary="What failed shells share and sound ones do not", responses=READ_ONE)
def failures(
    shop: TheShop,
    within: Annotated[
        str, Query(description="recipe: hold shells only against those of the same recipe")
    ] = "",
) -> FailuresOut:
    return failures_out(shop.failures(looked_of(within)), shop.site())
