"""The page that asks for the shop key."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from api.asked import Posted
from api.doors import COOKIE, Lock
from api.templating import render
from service.errors import ShopError

router = APIRouter(prefix="/key", include_in_schema=False)

A_YEAR_S = 365 * 24 * 3600


@router.get("")
def key_page(request: Request, to: str = "/") -> Response:
    """One field."""
    return render(request, "key.html", to=own_path(to), problem=None, again=False, from_elsewhere=False)


@router.post("")
def enter(request: Request, form: Posted) -> Response:
    """The right key opens the door of this phone or screen for a year."""
    lock: Lock = request.app.state.lock
    to = own_path(form["to"])
    try:
        fits = lock.fits(form["shop_key"])
    except ShopError as problem:
        return render(
            request, "key.html", problem.status, to=to, problem=problem, again=False, from_elsewhere=False
        )
    if not fits:
        return render(request, "key.html", 401, to=to, problem=None, again=True, from_elsewhere=False)
    answer = RedirectResponse(to, 303)
    secure = request.url.scheme == "https"
    answer.set_cookie(COOKIE, lock.cookie, max_age=A_YEAR_S, httponly=True, samesite="strict", secure=secure)
    return answer


def own_path(to: str) -> str:
    """A path of ours to go on to, never an address elsewhere."""
    return to if to.startswith("/") and not to.startswith(("//", "/\\")) else "/"
