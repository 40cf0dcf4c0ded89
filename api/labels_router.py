"""Hanger tags to print."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query
from starlette.requests import Request
from starlette.responses import Response

from api.asked import TheSettings, TheShop
from api.label_stock import STOCKS
from api.labels_page import empty_context, labels_context
from api.templating import render
from service.errors import ShopError

router = APIRouter(prefix="/labels", include_in_schema=False)

Moulds = Annotated[list[int], Query(max_length=500)]


@router.get("")
def labels_page(
    request: Request,
    shop: TheShop,
    settings: TheSettings,
    mould: Moulds = [],  # noqa: B006 (it is how a query is declared)
    stock: str = STOCKS[0].key,
    start: int = 1,
) -> Response:
    """Sheets of tags, for the moulds asked for or for all that hang."""
    status, problem = 200, None
    try:
        context = labels_context(shop, settings, mould, stock, start)
    except ShopError as error:
        status, problem, context = error.status, error, empty_context(shop)
    return render(
        request, "labels.html", status, stocks=STOCKS, problem=problem, settings=settings, **context
    )
