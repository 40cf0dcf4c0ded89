"""Entries that a phone kept while it had no connection. Each is answered so that the phone knows what became of it.

A page is no answer for a script: a proxy or a guest network could have sent it. Only what is said here counts.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from urllib.parse import quote

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.errors import BadInput, ShopError
from service.voice import say

WAITS = "x-waits"
"""On a request: an entry that waits, sent by a script."""
RECORDED = "x-recorded"
"""On its answer: it is recorded, and shown there."""
MADE_AT = "made_at"
LONGEST = timedelta(days=7)


def waits(request: Request) -> bool:
    """Whether a phone's script asks, for an entry that waits there."""
    return WAITS in request.headers


def shape(problem: ShopError) -> dict[str, dict[str, str | None]]:
    """The one error shape."""
    return {
        "error": {
            "code": problem.code,
            "message": problem.message,
            "todo": problem.todo,
            "field": problem.field,
        }
    }


def refusal(problem: ShopError, status: int) -> Response:
    """Why an entry was not taken, for the phone to show."""
    return JSONResponse(shape(problem), status)


def made_at(request: Request, now: datetime) -> datetime | None:
    """When an entry that had to wait was made, by the shop's clock as its phone knew it. None: it did not wait.

    Whether that time is possible is for the trade's rules to say, as with any other time.
    """
    text = request.query_params.get(MADE_AT)
    if text is None:
        return None
    made = _instant(text)
    if made < now - LONGEST:
        raise BadInput(
            "made_too_long_ago",
            say("That waited on the phone for more than {days} days.", days=LONGEST.days),
            say("Enter it anew, with its date and time."),
            "at",
        )
    return made


def _instant(text: str) -> datetime:
    try:
        made = datetime.fromisoformat(text)
    except ValueError:
        made = None
    if made is None or made.tzinfo is None:
        raise BadInput(
            "not_a_time",
            say("“{text}” is not a date and time.", text=text),
            say("Enter it anew, with its date and time."),
            "at",
        )
    return made


class Waits:
    """ASGI middleware: whatever is recorded for a phone's script is answered by where it is shown, not by a page."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        asked = scope["type"] == "http" and WAITS in Headers(scope=scope)
        await self.app(scope, receive, _telling(send, scope["path"]) if asked else send)


def _telling(send: Send, path: str) -> Send:
    async def send_told(message: Message) -> None:
        if message["type"] == "http.response.start" and message["status"] < 400:
            headers = MutableHeaders(scope=message)
            headers[RECORDED] = headers.get("location", quote(path))
            if message["status"] >= 300:
                message["status"] = 200
                del headers["location"]
        await send(message)

    return send_told
