"""Hanger tags to print: which moulds, on which stock, from which label of a sheet on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from api import tag
from api.label_sheets import sheets
from api.label_stock import STOCKS, Stock, stock_named
from api.qr import code_of
from api.settings import ApiSettings
from api.shop_port import ShopPort
from api.tag import Tag
from service.errors import BadInput
from service.local_time import local
from service.records.facts import DipBody, live
from service.records.shop_facts import Site
from service.room.views import MouldNow
from service.voice import say


def labels_context(
    shop: ShopPort, settings: ApiSettings, chosen: Sequence[int], stock_key: str, start: int
) -> dict[str, Any]:
    """Everything its template needs. chosen: moulds by number; none: all that hang. Raises ShopError."""
    stock, hanging, site = stock_named(stock_key), _hanging(shop), shop.site()
    moulds = [shop.mould(number) for number in dict.fromkeys(chosen)] or hanging
    _check_start(start, stock)
    tags = [tag_of(shop, settings, mould, site) for mould in moulds]
    for each in tags:
        tag.check(stock, each.code)
    gone = [mould for mould in moulds if mould.id not in {h.id for h in hanging}]
    return {
        "stock": stock,
        "start": start,
        "choice": [*hanging, *gone],
        "chosen": {mould.id for mould in moulds},
        "sheets": sheets(tags, stock, start),
    }


def empty_context(shop: ShopPort) -> dict[str, Any]:
    """The form alone, where what was asked cannot be."""
    hanging = _hanging(shop)
    return {
        "stock": STOCKS[0],
        "start": 1,
        "choice": hanging,
        "chosen": {m.id for m in hanging},
        "sheets": [],
    }


def _hanging(shop: ShopPort) -> list[MouldNow]:
    return sorted(shop.board().moulds, key=lambda mould: mould.name.casefold())


def tag_of(shop: ShopPort, settings: ApiSettings, mould: MouldNow, site: Site | None) -> Tag:
    """What stands on a mould's tag. Its code opens the mould's page."""
    link = f"{settings.link_base}/mould/{mould.id}"
    return Tag(mould, _first_dip(shop, mould, site), code_of(link))


def _first_dip(shop: ShopPort, mould: MouldNow, site: Site | None) -> date | None:
    dips = (fact for fact in live(list(shop.records.facts(mould.id))) if isinstance(fact.body, DipBody))
    at = min((fact.at for fact in dips), default=None)
    return local(at, site).date() if at else None


def _check_start(start: int, stock: Stock) -> None:
    if not 1 <= start <= stock.on_a_sheet:
        raise BadInput(
            "label_unknown",
            say("This sheet has no label {number}.", number=start),
            say("Count along the rows, from 1 to {last}.", last=stock.on_a_sheet),
            "start",
        )
