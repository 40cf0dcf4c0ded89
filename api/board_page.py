"""What the wall-board shows, worked out for its template: rows in order of the clock, rooms with their chart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from markupsafe import Markup

from api.charts import Frame, Line, Panel, by_time, chart
from api.rail import lay_out, wants_a_hand
from api.rail_drawing import drawn
from api.strata import Scale
from service import words
from service.records.shop_facts import Site
from service.room.views import Board, Called, Freshness, MouldNow, RoomNow, Stage
from service.units import Dimension, show

STRIP_PX = {"roomy": 380.0, "full": 340.0, "crowded": 170.0}
STRIP_TALL = {"roomy": 56.0, "full": 36.0, "crowded": 24.0}
LARGEST_PX_PER_M = 36_000.0
CROWDED, FULL = 14, 7
NOBODY = Called()


@dataclass(frozen=True, slots=True)
class Row:
    """One mould on the board. `bell` names the call it makes, empty while it makes none.

    coming: who said that they come, in words. waits: a message about it rings, and nobody said anything to it. urgent:
    such a message cannot wait for the morning.
    """

    mould: MouldNow
    called: bool
    hour: str
    what: str
    how: str
    obstacle: str | None
    bell: str
    coming: tuple[str, ...] = ()
    waits: bool = False
    urgent: bool = False


def board_context(board: Board) -> dict[str, Any]:
    """Everything the board's template needs besides the board itself."""
    site, now = board.site, board.at

    def clock(at: datetime) -> str:
        return words.clock_time(at, site, now)

    size = size_of(len(board.moulds))
    laid = lay_out(board.moulds, now, site, clock)
    return {
        "board": board,
        "rows": [row(m, site, now, board.called) for m in board.moulds],
        "size": size,
        "strip": strip_scale(board.moulds, size),
        "rail": drawn(laid, site, clock),
        "rooms": [(r, air_chart(r, site, now)) for r in board.rooms],
        "epoch_ms": int(now.timestamp() * 1000),
    }


def size_of(moulds: int) -> str:
    """How much room a row has."""
    return "crowded" if moulds > CROWDED else "full" if moulds > FULL else "roomy"


def strip_scale(moulds: Sequence[MouldNow], size: str) -> Scale:
    """One scale for all strips, so that depth can be compared; the thickest shell fits."""
    thickest = max((sum(layer.thickness_m for layer in m.layers) for m in moulds), default=0.01)
    return Scale(min(STRIP_PX[size] / thickest, LARGEST_PX_PER_M), STRIP_TALL[size])


def row(mould: MouldNow, site: Site | None, now: datetime, called: Called = NOBODY) -> Row:
    wanted = wants_a_hand(mould)
    bells = [bell for bell in called.bells if bell.mould_id == mould.id]
    hands = [hand for hand in called.hands if hand.mould_id == mould.id]
    urgent = any(bell.urgent for bell in bells)
    return Row(
        mould,
        wanted,
        hour(mould, site, now),
        what(mould),
        how(mould),
        words.obstacle(mould, site, now),
        bell_of(mould, urgent) if wanted or urgent else "",
        tuple(words.hand_line(hand, site, now) for hand in hands),
        bool(bells) and not hands,
        urgent,
    )


def bell_of(mould: MouldNow, urgent: bool) -> str:
    """What a screen knows a call again by, so that it sounds once; it is another once it cannot wait."""
    return f"{mould.id}-{mould.coats_given}-{mould.stage}{'-urgent' if urgent else ''}"


def hour(mould: MouldNow, site: Site | None, now: datetime) -> str:
    """The hour to look at: ``now``, ``15:40``, ``about 15:40`` on air not measured, or that there is none."""
    if wants_a_hand(mould):
        return "now"
    if mould.due_at is None:
        return "too damp" if mould.never else "no hour"
    if mould.due_at <= now:
        return "any minute"
    return f"{words.rough_mark(mould)}{words.clock_time(mould.due_at, site, now)}"


def what(mould: MouldNow) -> str:
    """What is to be done then, short enough for a wall: ``coat 5 of 9``."""
    if mould.stage is Stage.DRY:
        return "dewax"
    if mould.stage is Stage.FINAL_DRY:
        return "drying through"
    if mould.stage is Stage.TO_WIRE:
        return f"wires on coat {mould.coats_given}"
    return f"coat {mould.next_coat} of {mould.coats_total}"


def how(mould: MouldNow) -> str:
    """The rest of it: ``backup, grey tank``."""
    if mould.stage in (Stage.DRY, Stage.FINAL_DRY):
        return f"all {mould.coats_total} coats on"
    if mould.stage is Stage.TO_WIRE:
        return f"then coat {mould.next_coat}"
    tank = words.tank_words(mould.next_tank).removeprefix("the ") if mould.next_tank else ""
    return ", ".join(part for part in (mould.next_kind, tank) if part)


def air_chart(
    room: RoomNow,
    site: Site | None,
    now: datetime,
    ahead_h: float = 12.0,
    width: float = 430.0,
    tall: float = 42.0,
) -> Markup | None:
    """A room's air over the last day and the hours ahead. None before anything was measured."""
    if room.freshness is Freshness.NEVER or not room.last_day:
        return None
    units = words.units_of(site)
    warm = Line(
        "",
        by_time([(p.at, p.temperature_k) for p in room.last_day]),
        [(p.at, p.temperature_k) for p in room.forecast],
    )
    damp = Line(
        "",
        by_time([(p.at, p.humidity) for p in room.last_day]),
        [(p.at, p.humidity) for p in room.forecast],
    )
    panels = [
        Panel(warm, lambda v: show(v, Dimension.TEMPERATURE, units, 0), 4.0),
        Panel(damp, lambda v: show(v, Dimension.FRACTION, units), 0.2),
    ]
    frame = Frame(now - timedelta(hours=24), now + timedelta(hours=ahead_h), width, tall)
    label = f"{room.room.name}: air over the last day. {words.air_line(room, site, now)}"
    return chart(panels, frame, site, label, now=now)
