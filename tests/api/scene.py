"""Moulds by name, and what pages hold."""

from __future__ import annotations

import re
from datetime import timedelta

from api.fakes import FakeShop
from service.room.views import MouldNow

HOUR = timedelta(hours=1)


def mould(shop: FakeShop, name: str) -> MouldNow:
    return next(m for m in shop.all_moulds() if m.name == name)


def plain(page: str) -> str:
    """What a reader sees: tags taken out, white space pressed together."""
    without = re.sub(r"<(script|style|head|datalist)\b.*?</\1>", " ", page, flags=re.DOTALL)
    return " ".join(re.sub(r"<[^>]+>", " ", without).split())


def key_in(page: str) -> str:
    """The key of the first form on a page."""
    found = re.search(r'name="key" value="([^"]+)"', page)
    assert found, "no form with a key"
    return found[1]
