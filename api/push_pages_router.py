"""The worker that a browser keeps to show messages by while no page is open."""

from __future__ import annotations

import json
from importlib.resources import files

from fastapi import APIRouter
from starlette.responses import Response

from api.doors import WORKER
from service.voice import say

router = APIRouter(include_in_schema=False)


@router.api_route(WORKER, methods=["GET", "HEAD"])
def worker() -> Response:
    """From the root, since a worker serves only what lies below it (W3C, Service Workers).

    Its words stand before it, so that a phone whose language was changed takes it anew.
    """
    script = f"const WORDS = {json.dumps(_words())};\n" + (files("api") / "static" / "sw.js").read_text(
        "utf-8"
    )
    headers = {"Service-Worker-Allowed": "/", "Cache-Control": "no-cache"}
    return Response(script, media_type="text/javascript", headers=headers)


def _words() -> dict[str, str]:
    """What it says by itself, with no page open."""
    return {
        "nothing": say("Something wants a hand. Open the board."),
        "onMyWay": say("On my way"),
        "missing": say("No connection, and that page is not kept on this phone."),
        "board": say("The wall-board"),
    }
