"""What the phone page of a mould shows."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from api.asked import Form, new_key
from api.board_page import air_chart, row
from api.fact_words import fact_line, replaced
from api.photo_list import photos_of
from api.result_form import rows_of
from api.sending_troubles import sending_troubles
from api.sensors_on_mould import came_off, offered, worn_by
from api.shop_port import ShopPort
from api.strata import Scale
from service.alerts.dipping_session import at_tank
from service.errors import ShopError
from service.records.facts import DipBody, Fact, MouldBody, Problem, live
from service.room.views import Board, MouldNow, RoomNow, Stage
from service.voice import later
from service.words import heard_words

PAGE_PX = 318.0
TALL_PX = 84.0
MOST_HEARD = 8
"""So many of what was heard of it are shown; what is older folds out."""
MINUTES_AGO = (
    ("", later("just now")),
    ("5", later("5 min ago")),
    ("10", later("10 min ago")),
    ("20", later("20 min ago")),
    ("30", later("30 min ago")),
    ("60", later("1 h ago")),
    ("120", later("2 h ago")),
)
EARLY_REASONS = (
    later("felt dry to the hand"),
    later("the longest wait would pass"),
    later("the pour is booked"),
)


def mould_context(shop: ShopPort, mould_id: int) -> dict[str, Any]:
    """The state of a mould as the live part of its page shows it."""
    board, mould = shop.board(), shop.mould(mould_id)
    room = _room_of(mould, board)
    return {
        "mould": mould,
        "room": room,
        "board": board,
        "sending_troubles": sending_troubles(board),
        "row": row(mould, board.site, board.at, board.called),
        "rings": any(bell.mould_id == mould_id for bell in board.called.bells),
        "coming": [hand for hand in board.hands if hand.mould_id == mould_id],
        "drawing": drawing_scale(mould),
        "air": air_chart(room, board.site, board.at, width=360, tall=52) if room else None,
        "epoch_ms": int(board.at.timestamp() * 1000),
    }


def page_context(
    shop: ShopPort,
    mould_id: int,
    did: int | None = None,
    problem: ShopError | None = None,
    form: Form | None = None,
    asked: str = "",
) -> dict[str, Any]:
    """The whole page; after a refused form, what was filled in and why it was refused."""
    context, facts = mould_context(shop, mould_id), shop.records.facts(mould_id)
    just_did = _did(shop, mould_id, did)
    return {
        **context,
        **_evidence(shop, mould_id, just_did[0] if just_did else None),
        **places(facts, context["mould"].coats_given),
        "photos": photos_of(facts),
        "rows": rows_of(form if form and asked == "result" else Form({})),
        "main_form": main_form(context["mould"]),
        "tanks": shop.tanks(),
        "hands": shop.hands(),
        "minutes_ago": MINUTES_AGO,
        "early_reasons": EARLY_REASONS,
        "did": just_did,
        "together": _together(context["board"], context["mould"], just_did),
        "scales": shop.scales(),
        "problems": list(Problem),
        "problem": problem,
        "form": form or Form({}),
        "asked": asked,
        "key": form.key if form else new_key(),
    }


def _evidence(shop: ShopPort, mould_id: int, just_did: Fact | None) -> dict[str, Any]:
    """What was heard of it, the newest first, and which sensors are on it or can be put there."""
    site, now, on = shop.site(), shop.clock.now(), shop.sensors_on()
    return {
        "heard": [heard_words(each, site, now) for each in reversed(shop.heard(mould_id))],
        "most_heard": MOST_HEARD,
        "worn": worn_by(mould_id, on),
        "to_put_on": offered(mould_id, on, shop.sensors()),
        "came_off": came_off(shop, just_did) if just_did else "",
    }


def places(facts: Sequence[Fact], coats_given: int) -> dict[str, Any]:
    """Where on a mould something can be, and in which coat. Of one that left, its own words say which places it had."""
    about = next(f.body for f in live(list(facts)) if isinstance(f.body, MouldBody))
    return {"places": [zone.name for zone in about.zones], "coats": list(range(1, coats_given + 1))}


def main_form(mould: MouldNow) -> str:
    """The form whose button is the biggest thing on the page."""
    if mould.stage is Stage.ENDED:
        return "result" if mould.verdict is None else ""
    if mould.stage is Stage.TO_WIRE:
        return "wires"
    if mould.stage is Stage.DRY:
        return "dewax"
    return "dip" if mould.next_coat else ""


def drawing_scale(mould: MouldNow) -> Scale:
    """As large as a phone is wide."""
    thick = sum(layer.thickness_m for layer in mould.layers) or 0.01
    return Scale(PAGE_PX / thick, TALL_PX, numbers=True)


def _room_of(mould: MouldNow, board: Board) -> RoomNow | None:
    return next((r for r in board.rooms if r.room.id == mould.room.id), None)


def _together(board: Board, mould: MouldNow, did: tuple[Fact, str, datetime] | None) -> int:
    """How many others are ready for the tank it was just dipped from, or will be dipped from next."""
    body = did[0].body if did else None
    tank = body.tank if isinstance(body, DipBody) else mould.next_tank
    ready = at_tank(board.moulds, tank, board.at).ready if tank else ()
    return len([other for other in ready if other.id != mould.id])


def _did(shop: ShopPort, mould_id: int, number: int | None) -> tuple[Fact, str, datetime] | None:
    """What was just recorded, to be told and to be undone. None if there is no such record of this mould."""
    facts = shop.records.facts(mould_id) if number else []
    fact = next((f for f in facts if f.number == number), None)
    gone = any(f.replaces == number for f in facts)
    if fact is None or gone:
        return None
    return fact, fact_line(fact, shop.site(), facts, shop.rooms()), _when(fact, facts)


def _when(fact: Fact, facts: Sequence[Fact]) -> datetime:
    """When what was recorded happened. What a mould is, is changed when it is written down, unless it was moved."""
    old = replaced(fact, facts)
    described = isinstance(fact.body, MouldBody) and old is not None and old.at == fact.at
    return fact.recorded_at if described else fact.at
