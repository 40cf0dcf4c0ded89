"""What the wall-board shows, worked out for its template.

At the left what wants a hand now, tank by tank in dipping order, its first job by far the largest thing; at the right
what comes, in order of the clock; below, the rail of hours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import accumulate
from typing import Any
from urllib.parse import quote

from markupsafe import Markup

from api.air_strip import air_strip
from api.charts import Frame, Line, Panel, by_time, chart
from api.rail import TALL, WIDE, lay_out, wants_a_hand
from api.rail_drawing import drawn
from api.strata import Scale
from service import words
from service.records.recipes import CoatKind
from service.records.shop_facts import Site
from service.room.views import Board, Called, Freshness, MouldNow, RoomNow, Stage
from service.units import Dimension, show
from service.voice import later, say, say_many

STRIP_PX = {"roomy": 300.0, "full": 190.0, "crowded": 190.0}
STRIP_TALL = {"roomy": 44.0, "full": 28.0, "crowded": 26.0}
STRIP_ZOOM = {"roomy": 2.0, "full": 1.0, "crowded": 1.0}
LARGEST_PX_PER_M = 36_000.0
CROWDED, FULL = 9, 4
"""So many rows that come are crowded, so many fill the board."""
NEXT_PX, NEXT_TALL, NEXT_ZOOM = 500.0, 48.0, 2.0
LONG_NAME = 14
MOST_WAYS = 3
DIPPED = (Stage.TO_DIP, Stage.DRYING, Stage.READY)
NOT_HEARD = (Freshness.STALE, Freshness.NEVER)
NOBODY = Called()
RAILS = {"lying": (WIDE, 3), "standing": (TALL, 4)}
KINDS = {
    CoatKind.PRIME: later("prime"),
    CoatKind.BACKUP: later("backup"),
    CoatKind.SEAL: later("seal"),
}


@dataclass(frozen=True, slots=True)
class Row:
    """One mould on the board. `bell` names the call it makes, empty while it makes none.

    coming: who said that they come, in words. waits: a message about it rings, and nobody said anything to it. urgent:
    such a message cannot wait for the morning. brief: what is most in the way in a few words.
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
    brief: str = ""
    surely: str = ""

    @property
    def tank(self) -> str:
        """``grey tank``."""
        return tank_name(self.mould.next_tank)

    @property
    def rest(self) -> str:
        """What coat and tank leave unsaid: ``then coat 6``, ``all 8 coats on``. Empty for what simply dries."""
        return "" if self.mould.stage in (*DIPPED, Stage.FINAL_DRY) else self.how


@dataclass(frozen=True, slots=True)
class Round:
    """What is done now at one tank, in order; without a tank what is dry for dewax.

    first: the number of its first. wanted: something in it is due; if not, it is what comes first.
    """

    tank: str | None
    rows: tuple[Row, ...]
    first: int
    wanted: bool

    @property
    def link(self) -> str:
        """The page on which it is dipped in one go. Empty where no tank is named, or nothing is due."""
        return f"/dipping?tank={quote(self.tank, safe='')}" if self.tank and self.wanted else ""

    @property
    def title(self) -> str:
        if not self.tank:
            return say("Ready for dewax") if self.rows[0].mould.stage is Stage.DRY else ""
        return say_many(
            "{tank}: {number} to dip",
            "{tank}: {number}, in this order",
            len(self.rows),
            tank=tank_name(self.tank),
        )


@dataclass(frozen=True, slots=True)
class Next:
    """The one job that comes first, in the largest letters.

    besides: what is not said by its coat and tank. ways: what is in its way, the weightiest first.
    """

    row: Row
    about: str
    tank: str
    besides: str
    ways: tuple[str, ...]
    strip: Scale


@dataclass(frozen=True, slots=True)
class Jobs:
    """Everything on the board in the order in which it is looked at."""

    rounds: tuple[Round, ...]
    later: tuple[Row, ...]

    @property
    def first(self) -> Row | None:
        return self.rounds[0].rows[0] if self.rounds else None

    @property
    def in_order(self) -> list[MouldNow]:
        """Every mould, as they are looked at."""
        return [row.mould for r in self.rounds for row in r.rows] + [row.mould for row in self.later]

    @property
    def due(self) -> int:
        """How many stand at the left."""
        return sum(len(r.rows) for r in self.rounds)


def board_context(board: Board) -> dict[str, Any]:
    """Everything the board's template needs besides the board itself."""
    site, now = board.site, board.at

    def clock(at: datetime) -> str:
        return words.clock_time(at, site, now)

    found = jobs(board)
    size = size_of(max(len(found.later), found.due))
    rails = [(kind, lay_out(found.in_order, now, site, clock, *room)) for kind, room in RAILS.items()]
    return {
        "board": board,
        "jobs": found,
        "size": size,
        "strip": strip_scale(board.moulds, size),
        "next": next_job(found.first, board) if found.first else None,
        "long_name": LONG_NAME,
        "rails": [(kind, drawn(laid, site, clock)) for kind, laid in rails],
        "rooms": [(r, air_strip(r, site, now)) for r in board.rooms],
        "epoch_ms": int(now.timestamp() * 1000),
    }


def jobs(board: Board) -> Jobs:
    """Due at the tanks, then dry for dewax; where nothing is due, what comes first stands in its place."""
    rows = {m.id: row(m, board.site, board.at, board.called) for m in board.moulds}
    rounds = [(s.tank, [rows.pop(i) for i in s.mould_ids if i in rows]) for s in board.sessions]
    dry = [r for r in rows.values() if r.called]
    rounds = [(tank, found) for tank, found in [*rounds, (None, dry)] if found]
    if rows and not rounds:
        first = next(iter(rows.values()))
        rounds = [(None, [first])]
    taken = {r.mould.id for _, found in rounds for r in found}
    later = tuple(r for i, r in rows.items() if i not in taken)
    return Jobs(_numbered(rounds), later)


def _numbered(rounds: Sequence[tuple[str | None, Sequence[Row]]]) -> tuple[Round, ...]:
    starts = accumulate((len(found) for _, found in rounds), initial=1)
    return tuple(
        Round(tank, tuple(found), first, any(r.called for r in found))
        for (tank, found), first in zip(rounds, starts, strict=False)
    )


def next_job(first: Row, board: Board) -> Next:
    mould = first.mould
    kind = mould.next_kind if mould.stage in DIPPED else None
    return Next(
        first,
        about(mould, board.site, board.at),
        first.tank,
        say(KINDS[kind]) if kind else first.how,
        in_the_way(mould, board),
        next_scale(mould),
    )


def in_the_way(mould: MouldNow, board: Board) -> tuple[str, ...]:
    """What hinders the mould itself, then what is wrong with the air it hangs in."""
    own = words.notices(mould, board.site, board.at)
    rooms = [r for r in board.rooms if r.room.id == mould.room.id]
    air = [line for r in rooms for line in words.own_air_lines(mould, r, board.site)]
    silent = [words.freshness_line(r, board.site, board.at) for r in rooms if r.freshness in NOT_HEARD]
    said = words.guessing_line(mould.guessing_since, board.at)
    return (*own, *air, *(line for line in silent if said not in own))[:MOST_WAYS]


def next_scale(mould: MouldNow) -> Scale:
    """The next job's shell fills its place, whatever its thickness."""
    thick = sum(layer.thickness_m for layer in mould.layers)
    return Scale(NEXT_PX / max(thick, 1e-3), NEXT_TALL, numbers=True, zoom=NEXT_ZOOM)


def size_of(moulds: int) -> str:
    """How much room a row of what comes has."""
    return "crowded" if moulds >= CROWDED else "full" if moulds > FULL else "roomy"


def strip_scale(moulds: Sequence[MouldNow], size: str) -> Scale:
    """One scale for all strips, so that depth can be compared; the thickest shell fits."""
    thickest = max((sum(layer.thickness_m for layer in m.layers) for m in moulds), default=0.01)
    return Scale(min(STRIP_PX[size] / thickest, LARGEST_PX_PER_M), STRIP_TALL[size], zoom=STRIP_ZOOM[size])


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
        words.brief(mould, site, now),
        surely(mould, site, now),
    )


def bell_of(mould: MouldNow, urgent: bool) -> str:
    """What a screen knows a call again by, so that it sounds once; it is another once it cannot wait."""
    return f"{mould.id}-{mould.coats_given}-{mould.stage}{'-urgent' if urgent else ''}"


def hour(mould: MouldNow, site: Site | None, now: datetime) -> str:
    """The hour to look at: ``now``, ``15:40``, ``~15:40`` on air not measured, or that there is none."""
    if wants_a_hand(mould):
        return say("now")
    in_doubt = words.range_of(mould, now)
    at = in_doubt.about if in_doubt else mould.due_at
    if at is None:
        return _no_hour(mould, in_doubt is not None)
    if at <= now:
        return say("any minute")
    return f"{words.rough_mark(mould)}{words.clock_time(at, site, now)}"


def _no_hour(mould: MouldNow, passed: bool) -> str:
    if passed:
        return say("any time")
    return say("too damp") if mould.never else say("no hour")


def about(mould: MouldNow, site: Site | None, now: datetime) -> str:
    """The same in whole words, for the largest letters: ``about 14:20``, ``any time now``."""
    in_doubt = words.range_of(mould, now)
    if in_doubt:
        return in_doubt.opening(lambda at: words.clock_time(at, site, now))
    shown = hour(mould, site, now)
    coming = mould.due_at is not None and mould.due_at > now and not wants_a_hand(mould)
    if coming and words.reckoned_roughly(mould):
        return say("about {hour}", hour=shown.removeprefix(words.rough_mark(mould)))
    return shown


def surely(mould: MouldNow, site: Site | None, now: datetime) -> str:
    """``surely by 15:10``, while it is waited for and its hour is in doubt."""
    in_doubt = words.range_of(mould, now)
    return in_doubt.end(lambda at: words.clock_time(at, site, now)) if in_doubt else ""


def what(mould: MouldNow) -> str:
    """What is to be done then, short enough for a wall: ``coat 5 of 9``."""
    if mould.stage is Stage.DRY:
        return say("dewax")
    if mould.stage is Stage.FINAL_DRY:
        return say("drying through")
    if mould.stage is Stage.TO_WIRE:
        return say("wires on coat {coat}", coat=mould.coats_given)
    return say("coat {coat} of {total}", coat=mould.next_coat, total=mould.coats_total)


def how(mould: MouldNow) -> str:
    """The rest of it: ``backup, grey tank``."""
    if mould.stage in (Stage.DRY, Stage.FINAL_DRY):
        return say("all {number} coats on", number=mould.coats_total)
    if mould.stage is Stage.TO_WIRE:
        return say("then coat {coat}", coat=mould.next_coat)
    tank = tank_name(mould.next_tank)
    return ", ".join(part for part in (say(KINDS[mould.next_kind]) if mould.next_kind else "", tank) if part)


def tank_name(tank: str | None) -> str:
    """``grey tank``, short for a wall."""
    return words.tank_words(tank).removeprefix("the ") if tank else ""


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
    ahead = [p for p in room.forecast if p.at <= now + timedelta(hours=ahead_h)]
    warm = Line(
        "",
        by_time([(p.at, p.temperature_k) for p in room.last_day]),
        [(p.at, p.temperature_k) for p in ahead],
        [(p.at, p.temperature_low_k, p.temperature_high_k) for p in ahead],
    )
    damp = Line(
        "",
        by_time([(p.at, p.humidity) for p in room.last_day]),
        [(p.at, p.humidity) for p in ahead],
        [(p.at, p.humidity_low, p.humidity_high) for p in ahead],
    )
    panels = [
        Panel(warm, lambda v: show(v, Dimension.TEMPERATURE, units, 0), 4.0),
        Panel(damp, lambda v: show(v, Dimension.FRACTION, units), 0.2),
    ]
    frame = Frame(now - timedelta(hours=24), now + timedelta(hours=ahead_h), width, tall)
    label = say(
        "{room}: air over the last day. {air}", room=room.room.name, air=words.air_line(room, site, now)
    )
    return chart(panels, frame, site, label, now=now)
