"""What failures share, and the shells behind each finding."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api.asked import TheShop
from api.failure_links import find_comparison, looked_of
from api.failures_page import failures_context, shells_context
from api.templating import render

router = APIRouter(prefix="/failures", include_in_schema=False)


@router.get("")
def failures_page(request: Request, shop: TheShop, within: str = "") -> Response:
    """What stands out, what does not, what could not be said."""
    found = shop.failures(looked_of(within))
    return render(request, "failures.html", **failures_context(found, shop.site()))


@router.get("/{kind}/{factor}")
def shells_page(request: Request, shop: TheShop, kind: str, factor: str, within: str = "") -> Response:
    """Every shell of one comparison, each with its record."""
    found = shop.failures(looked_of(within))
    comparison = find_comparison(found, kind, factor)
    return render(request, "failure_shells.html", **shells_context(comparison, found, shop.site()))
