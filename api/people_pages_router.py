"""Setting up who is told: people and places, with their ways, and a test of each."""

from __future__ import annotations

from enum import StrEnum
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Form, Posted, TheReplays, TheShop, new_key
from api.forms import seen
from api.people_form import MOST_WAYS, body_of, field_named, fields_of, kept, moved, rows, shown_days
from api.set_up_words import from_line
from api.shop_port import ShopPort
from api.telling_words import kind_words
from api.templating import render
from service.alerts.kinds import Kind
from service.alerts.telling_desk import Entry
from service.errors import ShopError
from service.records.set_up import Part

router = APIRouter(prefix="/set-up/people", include_in_schema=False)

EMPTY = {"all_kinds": "yes", "turn": "1"}


class Which(StrEnum):
    """Somebody who dips, or somewhere everybody hears of it."""

    PERSON = "person"
    PLACE = "place"

    @property
    def part(self) -> Part:
        return Part.PEOPLE if self is Which.PERSON else Part.PLACES


@router.get("")
def people_page(request: Request, shop: TheShop) -> Response:
    """Everybody who is told, and where that comes from."""
    return render(
        request,
        "set_up_people.html",
        listed=[(which, _lines(shop, which)) for which in Which],
        kept=kept,
        problem=None,
    )


@router.get("/{which}")
def one_page(
    request: Request, shop: TheShop, which: Which, name: str = "", here: bool = False, did: str = ""
) -> Response:
    """One of them, or a new one. here: to be changed, though alerts.toml names them."""
    if not name:
        return _page(
            request, shop, which, None, Form({**EMPTY, "quiet": "yes" if which is Which.PLACE else ""})
        )
    entry = shop.telling.entry(which.part, name)
    form = fields_of(entry.who) if entry.who else Form({"name": entry.name})
    return _page(request, shop, which, entry, form, here=here, did=did)


@router.post("/{which}")
def keep(request: Request, shop: TheShop, which: Which, form: Posted, replays: TheReplays) -> Response:
    """Keep what was said of somebody; it holds at once."""
    new = bool(form["new"])
    entry = None if new else shop.telling.entry(which.part, form["name"])
    if (other := moved(form)) is not None:
        return _page(request, shop, which, entry, other, here=True)
    try:
        name = form.need("name", "Name")
        body = body_of(form, which.part)
        replays.once(
            form.key,
            (which, name, body),
            lambda: shop.telling.keep(which.part, name, body, form.hand, new),
        )
    except ShopError as problem:
        problem.field = field_named(problem, form)
        return _page(request, shop, which, entry, form, problem, here=True)
    return seen(f"/set-up/people/{which}?name={quote(name, safe='')}&did=kept", form)


@router.post("/{which}/away")
def take_away(request: Request, shop: TheShop, which: Which, form: Posted) -> Response:
    """Take back what was set up here."""
    entry = shop.telling.entry(which.part, form["name"])
    try:
        shop.telling.take_away(which.part, entry.name, form.hand)
    except ShopError as problem:
        problem.field = None
        filled = fields_of(entry.who) if entry.who else Form({"name": entry.name})
        return _page(request, shop, which, entry, filled, problem)
    return seen("/set-up/people", form)


@router.post("/{which}/test")
def send_test(request: Request, shop: TheShop, which: Which, form: Posted, replays: TheReplays) -> Response:
    """Send them a test by one way, and say how it went."""
    entry = shop.telling.entry(which.part, form["name"])
    filled = fields_of(entry.who) if entry.who else Form({"name": entry.name})
    asked = (entry.name, form["way"] or None)
    try:
        told = replays.once(form.key, asked, lambda: shop.telling.send_test(*asked))
    except ShopError as problem:
        return _page(request, shop, which, entry, filled, problem)
    return _page(request, shop, which, entry, filled, told=told)


def _lines(shop: ShopPort, which: Which) -> list[tuple[Entry, str]]:
    site, now = shop.site(), shop.clock.now()
    entries = shop.telling.everybody(which.part)
    return [(entry, from_line(entry.said, entry.in_file, site, now)) for entry in entries]


def _page(
    request: Request,
    shop: ShopPort,
    which: Which,
    entry: Entry | None,
    form: Form,
    problem: ShopError | None = None,
    here: bool = False,
    did: str = "",
    told: list[str] | None = None,
) -> Response:
    context: dict[str, Any] = {
        "which": which,
        "entry": entry,
        "form": form,
        "problem": problem,
        "did": did,
        "told": told,
        "here": here or entry is None or entry.said is not None,
        "from_line": from_line(entry.said, entry.in_file, shop.site(), shop.clock.now()) if entry else "",
        "rows": _with_one_more(rows(form)),
        "most_ways": MOST_WAYS,
        "kept": kept(entry.who if entry else None),
        "kinds": [(kind, kind_words(kind)) for kind in Kind],
        "days": shown_days(),
        "hands": shop.hands(),
        "key": form["key"] or new_key(),
    }
    return render(request, "set_up_person.html", problem.status if problem else 200, **context)


def _with_one_more(listed: list[dict[str, str]]) -> list[dict[str, str]]:
    """An empty row for another way, as long as one more may be."""
    empty = {"name": "", "send_to": "", "was": ""}
    return (
        [*listed, empty] if len(listed) < MOST_WAYS and (not listed or any(listed[-1].values())) else listed
    )
