"""The live stream: whole state first, then again on every change, with a heartbeat between."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Hashable
from datetime import datetime
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import StreamingResponse

from api.asked import TheShop
from api.board_page import board_context
from api.mould_page import mould_context
from api.shared_states import SharedState, SharedStates
from api.shop_port import ShopPort
from api.templating import common, environment
from service.voice import voice

router = APIRouter(include_in_schema=False)

BEAT_S = 3.0
LEAST_BETWEEN_S = 0.5

Context = Callable[[], dict[str, Any]]


@router.get("/live")
async def live_board(request: Request, shop: TheShop) -> StreamingResponse:
    """The wall-board as it changes."""
    return _stream(request, shop, "_board.html", lambda: board_context(shop.board()))


@router.get("/live/mould/{mould_id}")
async def live_mould(request: Request, shop: TheShop, mould_id: int) -> StreamingResponse:
    """One mould as it changes."""
    return _stream(request, shop, "_mould_now.html", lambda: mould_context(shop, mould_id), mould_id)


def _stream(
    request: Request, shop: ShopPort, name: str, context: Context, about: Hashable = None
) -> StreamingResponse:
    """Nothing of one phone, such as whose hand holds it, is in what it is told: many look at the same."""
    settings, states = request.app.state.settings, request.app.state.shared_states
    assert isinstance(states, SharedStates)

    def render() -> str:
        return environment.get_template(name).render(**common(shop, settings), **context())

    shared = states.of((name, about, voice()), shop, render)
    headers = {"cache-control": "no-store", "x-accel-buffering": "no"}
    return StreamingResponse(events(shop, shared), media_type="text/event-stream", headers=headers)


async def events(shop: ShopPort, shared: SharedState) -> AsyncIterator[str]:
    """Server-sent events until the service stops or the page goes away.

    Each beat says the shop's time, also right after a state, which may have been made for somebody else a while ago.
    Where the state cannot be read there is no beat, so that the page says so itself.
    """
    told = 0
    while not shop.changes.closing:
        version = shop.changes.version
        state = await shared.newest()
        if state.gone:
            yield event("gone", "")
            return
        if state.html is None:
            yield ": not now\n\n"
        else:
            if state.number != told:
                yield event("state", state.html)
            yield event("beat", _stamp(shop.clock.now()))
        if state.number != told:
            told = state.number
            await asyncio.sleep(LEAST_BETWEEN_S)
        await shop.changes.wait(version, BEAT_S)


def event(name: str, data: str) -> str:
    """One server-sent event; each line of `data` is carried on its own."""
    lines = "".join(f"data: {line}\n" for line in data.split("\n"))
    return f"event: {name}\n{lines}\n"


def _stamp(at: datetime) -> str:
    return at.isoformat(timespec="milliseconds")
