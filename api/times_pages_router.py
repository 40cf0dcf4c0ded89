"""Setting up when is told, and by which limits: each table of alerts.toml as a form."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from api.asked import Form, Posted, TheReplays, TheShop, new_key
from api.forms import seen
from api.set_up_words import FILE, here_line
from api.shop_port import ShopPort
from api.telling_words import TABLES, held_words, hint_of, kind_words, label_of
from api.templating import render
from api.times_form import fields_of, kind_of, said_of, units_for
from service.alerts.kinds import Kind
from service.alerts.tables import Origin, Value
from service.errors import ShopError
from service.records.shop_facts import Site
from service.units import Dimension
from service.voice import say
from service.words.numbers import units_of

router = APIRouter(prefix="/set-up/times", include_in_schema=False)


@dataclass(frozen=True, slots=True)
class Line:
    """One value as a page shows it."""

    key: str
    label: str
    kind: str
    now: str
    origin: str
    here: bool
    dimension: Dimension | None
    hint: str = ""


@router.get("")
def times_page(request: Request, shop: TheShop, did: str = "") -> Response:
    """All tables with what holds now."""
    tables = [(name, say(title), _lines(shop, name)) for name, (title, _) in TABLES.items()]
    return render(request, "set_up_times.html", tables=tables, did=did)


@router.get("/{table}")
def table_page(request: Request, shop: TheShop, table: str) -> Response:
    """One of them, to be changed."""
    values = shop.telling.table(table)
    return _page(request, shop, table, fields_of(values, units_of(shop.site())))


@router.post("/{table}")
def keep(request: Request, shop: TheShop, table: str, form: Posted, replays: TheReplays) -> Response:
    """Keep it; it holds at once."""
    values = shop.telling.table(table)
    try:
        said = said_of(form, values)
        replays.once(form.key, (table, str(said)), lambda: shop.telling.keep_table(table, said, form.hand))
    except ShopError as problem:
        return _page(request, shop, table, form, problem)
    return seen("/set-up/times?did=kept", form)


@router.post("/{table}/back")
def take_back(request: Request, shop: TheShop, table: str, form: Posted) -> Response:
    """Go by what alerts.toml says of it again."""
    try:
        shop.telling.keep_table(table, {}, form.hand)
    except ShopError as problem:
        values = fields_of(shop.telling.table(table), units_of(shop.site()))
        return _page(request, shop, table, values, problem)
    return seen("/set-up/times?did=back", form)


def _page(
    request: Request, shop: ShopPort, table: str, form: Form, problem: ShopError | None = None
) -> Response:
    title, about = TABLES[table]
    said, site = shop.telling.said_of(table), shop.site()
    return render(
        request,
        "set_up_table.html",
        problem.status if problem else 200,
        table=table,
        title=say(title),
        about=say(about),
        lines=_lines(shop, table),
        form=form,
        problem=problem,
        here_line=here_line(said, site, shop.clock.now()) if said else "",
        units_for=lambda dimension: units_for(dimension, units_of(site)),
        kinds=[(kind, kind_words(kind)) for kind in Kind],
        hands=shop.hands(),
        key=form["key"] or new_key(),
    )


def _lines(shop: ShopPort, table: str) -> list[Line]:
    site = shop.site()
    return [
        Line(
            value.key,
            label_of(table, value),
            kind_of(value),
            held_words(table, value, value.now, site),
            _origin(table, value, site),
            value.here,
            value.dimension,
            hint_of(table, value),
        )
        for value in shop.telling.table(table)
    ]


def _origin(table: str, value: Value, site: Site | None) -> str:
    before = held_words(table, value, value.before, site)
    if value.origin is Origin.FILE:
        return say("From {file}", file=FILE)
    if value.origin is Origin.DEFAULT:
        return say("As usual: nothing else was said")
    if value.before_in_file:
        return say("Set up here; {file} says {before}", file=FILE, before=before)
    return say("Set up here; as usual it would be {before}", before=before)
