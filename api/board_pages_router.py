"""The wall-board."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from api.asked import TheShop
from api.board_page import board_context
from api.templating import render

router = APIRouter(include_in_schema=False)


@router.get("/")
def wall_board(request: Request, shop: TheShop) -> Response:
    """The wall-board; in a shop not yet set up, the way there."""
    board = shop.board()
    if board.site is None or not board.rooms:
        return RedirectResponse("/start", 303)
    return render(request, "board.html", **board_context(board))


@router.post("/clock-is-right")
def clock_is_right(shop: TheShop) -> Response:
    """A person looked at this machine's clock."""
    shop.trust_clock()
    return RedirectResponse("/", 303)
