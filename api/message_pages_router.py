"""Messages: what was told to whom, and what did not go out."""

from __future__ import annotations

from collections.abc import Sequence

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Posted, TheReplays, TheShop
from api.push_words import push_words
from api.sending_troubles import sending_troubles
from api.settings import ApiSettings
from api.shop_port import ShopPort
from api.templating import render
from service.alerts.people import CONSOLE
from service.alerts.who_is_told import WhoIsTold
from service.errors import ShopError
from service.voice import later, say

router = APIRouter(prefix="/messages", include_in_schema=False)

MOST_SHOWN = 60
OUTCOMES = {
    "taken": later("taken"),
    "refused": later("refused"),
    "later": later("asked to wait"),
    "not reached": later("not reached"),
    "unclear": later("may have arrived"),
    None: later("broken off: it may have arrived"),
}
"""How an attempt ended, for people."""


@router.get("")
def messages(request: Request, shop: TheShop) -> Response:
    """The newest first."""
    return _page(request, shop)


@router.post("/test")
def test_message(request: Request, shop: TheShop, replays: TheReplays, form: Posted) -> Response:
    """Send one to everybody who is told things, and say how it went."""
    try:
        told = replays.once(form.key, "test message", shop.send_test_message)
    except ShopError as problem:
        return _page(request, shop, problem=problem)
    return _page(request, shop, told or [say("Nobody is told of anything yet: set somebody up.")])


def _page(
    request: Request, shop: ShopPort, told: list[str] | None = None, problem: ShopError | None = None
) -> Response:
    recipients = shop.who_is_told()
    return render(
        request,
        "messages.html",
        problem.status if problem else 200,
        alerts=shop.alerts(MOST_SHOWN),
        recipients=recipients,
        dead_links=_links_are_dead(request, recipients),
        outcomes=OUTCOMES,
        troubles=sending_troubles(shop.board()),
        told=told,
        problem=problem,
        push=shop.push.now(),
        push_words=push_words(),
    )


def _links_are_dead(request: Request, recipients: Sequence[WhoIsTold]) -> bool:
    """Whether messages leave this machine with links that lead nowhere else."""
    settings: ApiSettings = request.app.state.settings
    away = any(way.name != CONSOLE for one in recipients for way in one.ways)
    return settings.links_lead_here and away
