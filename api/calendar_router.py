"""The calendar of coming dips: for phones at its secret address, and the address for whoever has the shop key."""

from __future__ import annotations

from datetime import UTC, datetime
from email.utils import format_datetime, parsedate_to_datetime

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from api.asked import Key, Posted, TheReplays, TheShop
from api.doors import Guesses
from api.models import READ, WRITE, Out, example
from api.problems import TooOften
from service.calendar.feed import Feed
from service.errors import NotFound, ShopError
from service.voice import say

router = APIRouter(tags=["the shop"])

HEADERS = {
    "cache-control": "private, max-age=300",
    "content-disposition": 'inline; filename="coatbell.ics"',
    "content-security-policy": "default-src 'none'; sandbox",
    "x-content-type-options": "nosniff",
    "x-robots-tag": "noindex",
}
RENEWED = "new calendar address"
ADDRESS = "://shellroom.local:8321/calendar/sTqD0P3l8m0m1m1m4b7VhJ2nQh9Xo5sY6wZk3cR1uA8.ics"


class CalendarOut(Out):
    """Where a phone subscribes: an ordinary address, and the same as one that opens its calendar."""

    model_config = example({"address": f"http{ADDRESS}", "webcal": f"webcal{ADDRESS}"})
    address: str
    webcal: str


@router.api_route("/calendar/{secret}.ics", methods=["GET", "HEAD"], include_in_schema=False)
def calendar(request: Request, shop: TheShop, secret: str) -> Response:
    """The calendar; 304 where the phone has it already. No shop key: a phone's calendar cannot send one."""
    feed = shop.calendar.fetch(secret)
    if feed is None:
        raise _not_there(request.app.state.calendar_guesses)
    return _answer(request, feed)


def _not_there(guesses: Guesses) -> ShopError:
    """The right address gets through at any time: it is too long to be guessed."""
    if guesses.too_many():
        return TooOften(
            "too_many_wrong_addresses",
            say("Too many wrong addresses."),
            say("Wait a minute, then try again."),
        )
    guesses.wrong()
    return NotFound(
        "calendar_unknown",
        say("There is no calendar at this address."),
        say("It may have been given a new one: look on the page Records, and subscribe anew."),
    )


def _answer(request: Request, feed: Feed) -> Response:
    headers = {
        **HEADERS,
        "etag": f'"{feed.etag}"',
        "last-modified": format_datetime(feed.changed_at.astimezone(UTC), usegmt=True),
    }
    if has_it_already(request.headers.get("if-none-match"), request.headers.get("if-modified-since"), feed):
        return Response(status_code=304, headers=headers)
    return Response(feed.body, media_type="text/calendar; charset=utf-8", headers=headers)


def has_it_already(none_match: str | None, modified_since: str | None, feed: Feed) -> bool:
    """Whether a 304 will do. The tags count alone where there are any (RFC 9110, 13.2.2)."""
    if none_match is not None:
        tags = [tag.strip().removeprefix("W/") for tag in none_match.split(",")]
        return "*" in tags or f'"{feed.etag}"' in tags
    since = _date(modified_since)
    return since is not None and feed.changed_at <= since


def _date(text: str | None) -> datetime | None:
    """An HTTP date; None where there is none or it cannot be read (then it does not count: RFC 9110, 13.1.3)."""
    try:
        at = parsedate_to_datetime(text) if text else None
    except (ValueError, OverflowError):
        return None
    return at.replace(tzinfo=UTC) if at is not None and at.tzinfo is None else at


@router.get("/api/calendar", summary="Where a phone's calendar subscribes to coming dips", responses=READ)
def address(shop: TheShop) -> CalendarOut:
    return calendar_out(shop.calendar.address())


@router.post("/api/calendar", summary="Give the calendar a new address", responses=WRITE)
def renew(shop: TheShop, key: Key, replays: TheReplays) -> CalendarOut:
    """The old one is dead at once: every phone must subscribe anew."""
    return calendar_out(replays.once(key, RENEWED, shop.calendar.renew))


@router.post("/records/calendar", include_in_schema=False)
def new_address(shop: TheShop, replays: TheReplays, form: Posted) -> Response:
    replays.once(form.key, RENEWED, shop.calendar.renew)
    return RedirectResponse("/records#calendar", 303)


def calendar_out(address: str) -> CalendarOut:
    return CalendarOut(address=address, webcal=f"webcal://{address.partition('://')[2]}")
