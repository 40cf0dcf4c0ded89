"""The live stream: whole state first, then again on every change, with a heartbeat between."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from datetime import datetime

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import StreamingResponse

from api.asked import TheShop
from api.board_page import board_context
from api.mould_page import mould_context
from api.shop_port import ShopPort
from api.templating import environment, surroundings
from service.errors import NotFound, ShopError

router = APIRouter(include_in_schema=False)

BEAT_S = 3.0
LEAST_BETWEEN_S = 0.5
RENEW_BEATS = 10  # so often the state comes again even if nothing changed: hours move on

Render = Callable[[], str]


@router.get("/live")
async def live_board(request: Request, shop: TheShop) -> StreamingResponse:
    """The wall-board as it changes."""

    def render() -> str:
        context = {**surroundings(request), **board_context(shop.board())}
        return environment.get_template("_board.html").render(**context)

    return _stream(shop, render)


@router.get("/live/mould/{mould_id}")
async def live_mould(request: Request, shop: TheShop, mould_id: int) -> StreamingResponse:
    """One mould as it changes."""

    def render() -> str:
        context = {**surroundings(request), **mould_context(shop, mould_id)}
        return environment.get_template("_mould_now.html").render(**context)

    return _stream(shop, render)


def _stream(shop: ShopPort, render: Render) -> StreamingResponse:
    headers = {"cache-control": "no-store", "x-accel-buffering": "no"}
    return StreamingResponse(events(shop, render), media_type="text/event-stream", headers=headers)


async def events(shop: ShopPort, render: Render) -> AsyncIterator[str]:
    """Server-sent events until the service stops or the page goes away."""
    version, beats = -1, 0
    while not shop.changes.closing:
        newest = shop.changes.version
        if newest != version or beats >= RENEW_BEATS:
            version, beats = newest, 0
            yield await _state(render)
            await asyncio.sleep(LEAST_BETWEEN_S)
        newest = await shop.changes.wait(version, BEAT_S)
        if newest == version:
            beats += 1
            yield event("beat", _stamp(shop.clock.now()))


async def _state(render: Render) -> str:
    """The state now; where it cannot be read there is no beat, so that the page says so itself."""
    try:
        return event("state", await run_in_threadpool(render))
    except NotFound:
        return event("gone", "")
    except ShopError:
        return ": not now\n\n"


def event(name: str, data: str) -> str:
    """One server-sent event; each line of `data` is carried on its own."""
    lines = "".join(f"data: {line}\n" for line in data.split("\n"))
    return f"event: {name}\n{lines}\n"


def _stamp(at: datetime) -> str:
    return at.isoformat(timespec="seconds")
