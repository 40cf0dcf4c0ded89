"""The hands of the demo: what they would do next, from the board alone. Pure, but for the runner at the end."""

from __future__ import annotations

import logging
import zlib
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Literal, Protocol

from service.alerts.replies import Said
from service.errors import ShopError
from service.local_time import working_hours
from service.records.facts import Fact, MouldBody
from service.records.recipes import Recipe, WireStep
from service.records.shop_facts import Site
from service.room.views import Board, MouldNow, Stage

log = logging.getLogger(__name__)

BENCHES = ("bench 1", "bench 2")
SAYS_SO_EVERY = 2
"""To one dip in so many somebody says "on my way"."""
LONGEST_CLOSED = timedelta(days=3)


class Act(StrEnum):
    DIP = "dip"
    FEEL = "feel"
    WIRES = "wires"
    DEWAX = "dewax"
    HANG = "hang"


ACTS = {
    Stage.TO_DIP: Act.DIP,
    Stage.READY: Act.DIP,
    Stage.TO_WIRE: Act.WIRES,
    Stage.DRY: Act.DEWAX,
}
"""What a stage asks of a hand; the others ask for patience."""
CALLED_TO = (Act.DIP, Act.FEEL, Act.WIRES)
"""What a bell rings for."""


@dataclass(frozen=True, slots=True)
class Habits:
    """How the hands work. Seconds are the demo clock's.

    soonest_s, latest_s: between these a hand comes after the bell, each time another, in working hours.
    always: by night too. left: names of moulds that wait `patience_s` for the visitor first.
    first_coat_until: no first coat after this hour, so that no prime coat stands overnight.
    dewax_from: shells are dewaxed together in the afternoon, from this hour on.
    hanging: a new wax is hung up when fewer moulds hang.
    walk_s: so long before they come they say "on my way", where they say it.
    felt_every, weighed_every, read_every: one coat in so many is felt before the next, weighed after its dip and before
    the next, or has its face read; 0: none.
    """

    soonest_s: float = 300.0
    latest_s: float = 2400.0
    always: bool = False
    left: frozenset[str] = frozenset()
    patience_s: float = 24 * 3600.0
    first_coat_until: int = 12
    dewax_from: int = 16
    hanging: int = 12
    walk_s: float = 900.0
    felt_every: int = 0
    weighed_every: int = 0
    read_every: int = 0


@dataclass(frozen=True, slots=True)
class Action:
    """One thing to do, due since `at`. A new wax has no mould yet."""

    act: Act
    at: datetime
    mould: MouldNow | None = None


def next_action(
    board: Board, now: datetime, habits: Habits, passed: Collection[int | None] = ()
) -> Action | None:
    """The one thing a hand does at this moment, the longest due first; None: nothing to do, or the shop is closed.

    passed: moulds to pass over by their ids; None among them: hang no new wax.
    """
    if board.site is None:
        return None
    there = [mould for mould in board.moulds if mould.id not in passed]
    wanted = [action for mould in there if (action := _wanted(mould, board.site, habits))]
    if len(board.moulds) < habits.hanging and None not in passed:
        wanted.append(Action(Act.HANG, now))
    due = [action for action in wanted if action.at <= now and _fits(action, now, board.site, habits)]
    return min(due, key=lambda action: action.at, default=None)


def hand_comes(
    due: datetime, act: Act, who: str, site: Site, habits: Habits, first_coat: bool = False
) -> datetime:
    """When a hand comes after something fell due: in its hours, a while later, the same while for the same `who`."""
    share = _chance(f"{who} {act}") % 1000 / 1000
    delay = timedelta(seconds=habits.soonest_s + share * (habits.latest_s - habits.soonest_s))
    shop = its_hours(act, site, habits, first_coat)
    return first_working(first_working(due, shop, habits) + delay, shop, habits)


def first_working(at: datetime, site: Site, habits: Habits) -> datetime:
    """The first moment from `at` on when a hand is there."""
    return at if habits.always else working_hours(at, at + LONGEST_CLOSED, site)[0][0]


def its_hours(act: Act, site: Site, habits: Habits, first_coat: bool = False) -> Site:
    """The shop with the hours in which this is done: first coats in the morning, dewax in the afternoon.

    An hour outside the shop's own day changes nothing.
    """
    if first_coat and site.day_starts_hour < habits.first_coat_until < site.day_ends_hour:
        return replace(site, day_ends_hour=habits.first_coat_until)
    if act is Act.DEWAX and site.day_starts_hour < habits.dewax_from < site.day_ends_hour:
        return replace(site, day_starts_hour=habits.dewax_from)
    return site


def _wanted(mould: MouldNow, site: Site, habits: Habits) -> Action | None:
    act = ACTS.get(mould.stage)
    if act is None:
        return None
    due = mould.due_at or mould.started_at
    if mould.name in habits.left:
        due += timedelta(seconds=habits.patience_s)
    at = hand_comes(due, act, _about(mould), site, habits, mould.stage is Stage.TO_DIP)
    return Action(Act.FEEL if is_felt_first(mould, habits) else act, at, mould)


def _about(mould: MouldNow) -> str:
    return f"{mould.name} {mould.coats_given}"


def is_felt_first(mould: MouldNow, habits: Habits) -> bool:
    """Whether the hand that comes to dip feels the coat first. No coat that must not wait; until it once felt dry."""
    if mould.stage is not Stage.READY or mould.longest_wait_until or mould.hand_check == "dry":
        return False
    return one_in(habits.felt_every, f"{_about(mould)} feel")


def one_in(many: int, what: str) -> bool:
    """Whether this is one in so many; always the same for the same. 0: none is."""
    return bool(many) and _chance(what) % many == 0


def bench_for(mould: MouldNow) -> str:
    """Who sees to this mould's next coat."""
    return BENCHES[_chance(_about(mould)) % len(BENCHES)]


def _chance(text: str) -> int:
    """A number that is always the same for the same text."""
    return zlib.crc32(text.encode())


def _fits(action: Action, now: datetime, site: Site, habits: Habits) -> bool:
    """Whether this moment lies in the hours for it. A new wax is hung when it could be dipped."""
    first_coat = action.mould is None or action.mould.stage is Stage.TO_DIP
    return first_working(now, its_hours(action.act, site, habits, first_coat), habits) == now


class Bench(Protocol):
    """What the hands need of the shop."""

    def board(self) -> Board: ...

    def all_moulds(self) -> list[MouldNow]: ...

    def dip(
        self,
        mould_id: int,
        tank: str,
        at: datetime | None,
        hand: str,
        key: str,
        early_reason: str | None = None,
    ) -> Fact: ...

    def wires(self, mould_id: int, text: str, hand: str, key: str) -> Fact: ...

    def check(
        self,
        mould_id: int,
        verdict: Literal["still damp", "dry"],
        zone: str | None,
        hand: str,
        key: str,
    ) -> Fact: ...

    def reply_to_mould(self, mould_id: int, person: str, said: Said) -> None: ...

    def end(self, mould_id: int, outcome: Literal["dewaxed"], text: str, hand: str, key: str) -> Fact: ...

    def start_mould(self, body: MouldBody, hand: str, key: str) -> MouldNow: ...


NextWax = Callable[[Collection[str]], MouldBody]
"""The next wax to hang up, given the names that were used already."""
Feels = Callable[[MouldNow], bool]
"""Whether the newest coat of a mould feels damp now."""


def go_round(
    bench: Bench, now: datetime, habits: Habits, next_wax: NextWax, feels_damp: Feels
) -> list[Action]:
    """Do everything that is due, one thing a mould. What the shop refuses is left for another time."""
    done: list[Action] = []
    passed: set[int | None] = set()
    while (action := next_action(bench.board(), now, habits, passed)) is not None:
        passed.add(action.mould.id if action.mould else None)
        try:
            _do(action, bench, now, next_wax, feels_damp)
            done.append(action)
        except ShopError as refused:
            log.info("The demo's hand was refused: %s", refused)
    return done


def say_who_comes(bench: Bench, now: datetime, habits: Habits, said: set[tuple[int, int]]) -> None:
    """Let those who set out now say "on my way", each once. said: to which mould and coat somebody did."""
    for mould in setting_out(bench.board(), now, habits):
        if (mould.id, mould.coats_given) not in said:
            try:
                bench.reply_to_mould(mould.id, bench_for(mould), Said.ON_MY_WAY)
                said.add((mould.id, mould.coats_given))
            except ShopError as refused:
                log.info("The demo's hand was refused: %s", refused)


def setting_out(board: Board, now: datetime, habits: Habits) -> list[MouldNow]:
    """The moulds to which somebody is on the way who says so."""
    wanted = [a for m in board.moulds if board.site and (a := _wanted(m, board.site, habits))]
    walk = timedelta(seconds=habits.walk_s)
    soon = [
        action.mould for action in wanted if action.at - walk <= now < action.at and action.act in CALLED_TO
    ]
    return [m for m in soon if m is not None and _chance(f"{_about(m)} says so") % SAYS_SO_EVERY == 0]


def _do(action: Action, bench: Bench, now: datetime, next_wax: NextWax, feels_damp: Feels) -> None:
    key = f"demo {action.act} {action.mould.id if action.mould else ''} {now.isoformat()}"
    mould = action.mould
    if mould is None:
        bench.start_mould(next_wax({m.name for m in bench.all_moulds()}), BENCHES[0], key)
    elif action.act is Act.WIRES:
        bench.wires(mould.id, where_wires_go(mould.recipe, mould.coats_given), bench_for(mould), key)
    elif action.act is Act.FEEL:
        bench.check(mould.id, "still damp" if feels_damp(mould) else "dry", None, bench_for(mould), key)
    elif action.act is Act.DEWAX:
        bench.end(mould.id, "dewaxed", "Wax out, shell whole.", bench_for(mould), key)
    elif mould.next_tank is not None:
        bench.dip(mould.id, mould.next_tank, None, bench_for(mould), key)


def where_wires_go(recipe: Recipe, coat: int) -> str:
    """What the recipe says about the wire on this coat."""
    places = (step.where for step in recipe.steps if isinstance(step, WireStep))
    return dict(zip(recipe.wire_coats, places, strict=True)).get(coat, "")
