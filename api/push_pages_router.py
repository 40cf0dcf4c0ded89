"""The worker that a browser keeps to show messages by while no page is open."""

from __future__ import annotations

from importlib.resources import files

from fastapi import APIRouter
from starlette.responses import Response

from api.doors import WORKER

router = APIRouter(include_in_schema=False)


@router.get(WORKER)
def worker() -> Response:
    """From the root, since a worker serves only what lies below it (W3C, Service Workers)."""
    script = (files("api") / "static" / "sw.js").read_bytes()
    headers = {"Service-Worker-Allowed": "/", "Cache-Control": "no-cache"}
    return Response(script, media_type="text/javascript", headers=headers)
