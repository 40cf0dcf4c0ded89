"""The page behind a link in a message: who opens it by a tap is on the way. It is signed, and needs no shop key.

A GET changes nothing: mail scanners and chat previews fetch links too. The page posts by itself where scripts run.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from api.asked import HAND_COOKIE, Posted, TheShop, new_key
from api.doors import Lock
from api.forms import remember_hand
from api.shop_port import ShopPort
from api.templating import render
from service.alerts.replies import Said
from service.alerts.reply_views import Wanted
from service.errors import BadInput, ShopError
from service.room.views import MouldNow, Stage
from service.voice import say

router = APIRouter(prefix="/r/{token}", include_in_schema=False)

BY_ITSELF = {"come": Said.ON_MY_WAY, "later": Said.LATER}
"""What opening a link says, by the last part of its address."""
HIDDEN = {"cache-control": "no-store", "referrer-policy": "no-referrer", "x-robots-tag": "noindex, nofollow"}


def the_lock(request: Request) -> Lock:
    lock: Lock = request.app.state.lock
    return lock


TheLock = Annotated[Lock, Depends(the_lock)]


@router.get("")
def reply_page(request: Request, shop: TheShop, lock: TheLock, token: str) -> Response:
    """How it stands, with buttons. Says nothing by itself."""
    return _page(request, shop, lock, token, None)


@router.get("/{tap}")
def tapped(request: Request, shop: TheShop, lock: TheLock, token: str, tap: str) -> Response:
    """The same, and its script says at once what the link stands for."""
    return _page(request, shop, lock, token, BY_ITSELF.get(tap))


@router.post("")
def take_answer(request: Request, shop: TheShop, lock: TheLock, token: str, form: Posted) -> Response:
    """Take what was tapped, once; then the page that says so."""
    try:
        wanted = lock.check_link(lambda: shop.reply(token, said_in(form["said"])))
    except ShopError as problem:
        return _told(request, problem)
    answer = RedirectResponse(f"/r/{token}", 303, HIDDEN)
    if HAND_COOKIE not in request.cookies:
        remember_hand(answer, wanted.person)
    return answer


def said_in(text: str) -> Said:
    """What a button says. Raises BadInput."""
    try:
        return Said(text)
    except ValueError as error:
        words = say("“{text}” is no answer.", text=text)
        raise BadInput("not_known", words, say("Tap one of the buttons."), "said") from error


def _page(request: Request, shop: ShopPort, lock: Lock, token: str, tap: Said | None) -> Response:
    try:
        wanted = lock.check_link(lambda: shop.wanted(token))
    except ShopError as problem:
        return _told(request, problem)
    due = {mould.id: mould.due_at for mould in shop.board().moulds}
    ready = _ready(shop, wanted) if lock.opens(request) else []
    at_once = _at_once(wanted, tap)
    return render(
        request,
        "reply.html",
        headers=HIDDEN,
        wanted=wanted,
        due=due,
        ready=ready,
        token=token,
        at_once=at_once,
        key=new_key(),
    )


def _ready(shop: ShopPort, wanted: Wanted) -> list[MouldNow]:
    """Those of its moulds that can be dipped now. The link alone records no dip: that takes the shop's key as well."""
    asked = {mould_id for mould_id, _ in wanted.pages}
    return [m for m in shop.board().moulds if m.id in asked and m.stage in (Stage.TO_DIP, Stage.READY)]


def _at_once(wanted: Wanted, tap: Said | None) -> str:
    """What the page says by itself: once a message, and not where somebody else is on the way already.

    A phone that opens its old pages anew must not say again what was said hours ago.
    """
    return "" if tap is None or tap in wanted.said or wanted.coming else tap.value


def _told(request: Request, problem: ShopError) -> Response:
    return render(request, "reply_problem.html", problem.status, HIDDEN, problem=problem)
