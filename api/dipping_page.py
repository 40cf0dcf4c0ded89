"""What the page of a dipping session shows, and what its form says."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from api.asked import Form, new_key
from api.fact_words import fact_line
from api.mould_page import EARLY_REASONS, MINUTES_AGO
from api.several_dips import OneDip, Refused
from api.shop_port import ShopPort
from service import words
from service.alerts.dipping_session import AtTank, at_tank, at_tanks
from service.errors import BadInput, Conflict, NotFound
from service.records.facts import DipBody, Fact
from service.room.views import MouldNow
from service.voice import say, say_many

TICKED = re.compile(r"dip_(\d{1,9})")
LONGEST_SESSION_S = 24 * 3600.0
MOST_WARNINGS = 3


def choose_context(shop: ShopPort) -> dict[str, Any]:
    """The tanks, those with most to dip first."""
    board = shop.board()
    tanks = at_tanks(board.moulds, shop.tanks(), board.at)
    return {"tanks": [(tank, words.at_tank_line(tank, board.site, board.at)) for tank in tanks]}


def session_context(
    shop: ShopPort,
    tank: str,
    did: Sequence[int] = (),
    ticked: Mapping[int, float] | None = None,
    refused: Sequence[Refused] = (),
    form: Form | None = None,
) -> dict[str, Any]:
    """The moulds for one tank. ticked: by number, how many seconds ago. refused: what was just not recorded."""
    board, form = shop.board(), form or Form({})
    here = at_tank(board.moulds, tank, board.at)
    return {
        "tank": tank,
        "here": here,
        "warnings": {m.id: words.notices(m, board.site, board.at)[:MOST_WARNINGS] for m in here.ready},
        "pre_wet": {m.id for m in here.ready if _pre_wet(m)},
        "waits": [(m, words.what_now(m, board.site, board.at)) for m in here.not_yet],
        "counts": [
            words.dipped_button(number) if number else say("Tap what you dipped")
            for number in range(_most(here, refused) + 1)
        ],
        "did": [(fact, _name(shop, fact), fact_line(fact, board.site)) for fact in _dips(shop, did)],
        "ticked": ticked or {},
        "not_recorded": not_recorded(len(refused)),
        "refused": [(each, _named(shop, each.dip.mould_id)) for each in refused],
        "hands": shop.hands(),
        "minutes_ago": MINUTES_AGO,
        "early_reasons": EARLY_REASONS,
        "form": form,
        "key": form["key"] or new_key(),
    }


def dips_of(form: Form, told_at: datetime | None, now: datetime, speed: float) -> list[OneDip]:
    """The moulds that were ticked, the first ticked first, each with the time of its tick.

    told_at: when it was done, if the form says so; else each counts from now. Raises BadInput where none was ticked.
    """
    ids = [int(found[1]) for name in form if (found := TICKED.fullmatch(name))]
    if not ids:
        raise BadInput(
            "none_ticked", say("No mould is ticked."), say("Tap each mould that you dipped."), "dip"
        )
    same = bool(form["ago"] or form["at"])
    ago = {mould_id: 0.0 if same else _seconds(form[f"ago_{mould_id}"]) for mould_id in ids}
    base = told_at or now
    return [
        OneDip(
            mould_id,
            f"{form.key}-{mould_id}-{form[f'dip_{mould_id}']}",
            form.whole(f"dip_{mould_id}", say("Coat")),
            base - timedelta(seconds=ago[mould_id] * speed) if ago[mould_id] or told_at else None,
            form[f"reason_{mould_id}"],
        )
        for mould_id in sorted(ids, key=lambda one: -ago[one])
    ]


def all_refused(refused: Sequence[Refused], shop: ShopPort) -> Conflict:
    """All of it as one problem, for a phone whose entry waited; the rest is recorded."""
    each = (f"{_named(shop, one.dip.mould_id)}: {one.problem.message} {one.problem.todo}" for one in refused)
    return Conflict("dips_refused", not_recorded(len(refused)), " ".join(each))


def not_recorded(number: int) -> str:
    """``2 dips were not recorded:``"""
    return say_many("{number} dip was not recorded:", "{number} dips were not recorded:", number)


def numbers_in(text: str) -> list[int]:
    """``"12,13"`` as numbers; anything else in it is left out."""
    return [int(part) for part in text.split(",")[:100] if part.isascii() and part.isdigit()]


def _seconds(text: str) -> float:
    try:
        seconds = float(text or "0")
    except ValueError:
        return 0.0
    return seconds if 1 <= seconds <= LONGEST_SESSION_S else 0.0


def _most(here: AtTank, refused: Sequence[Refused]) -> int:
    return len(here.ready) + len(refused)


def _pre_wet(mould: MouldNow) -> bool:
    return bool(mould.next_coat and mould.recipe.coats[mould.next_coat - 1].pre_wet)


def _dips(shop: ShopPort, numbers: Sequence[int]) -> list[Fact]:
    """Those of them that are dips and hold."""
    found = []
    for number in numbers:
        try:
            fact = shop.records.fact(number)
            gone = any(other.replaces == number for other in shop.records.facts(fact.mould))
        except (NotFound, ValueError):
            continue
        if isinstance(fact.body, DipBody) and not gone:
            found.append(fact)
    return found


def _name(shop: ShopPort, fact: Fact) -> str:
    return _named(shop, fact.mould)


def _named(shop: ShopPort, mould_id: int) -> str:
    try:
        return shop.mould(mould_id).name
    except NotFound:
        return say("mould number {number}", number=mould_id)
