"""Works in what was heard of the moulds: of those that hang as soon as anything is new, of those that left once.

On a tick of its own, some at a time. A look asks what is known by now, and never waits.
"""

from __future__ import annotations

import hashlib
import logging
import math
import threading
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np

from service.drying.shell import Parameters
from service.errors import ShopError
from service.learning.smoother import MEMBERS, Learnt, assimilate, learned_numbers
from service.learning.story import Story
from service.records.store import Records
from service.room.anew import Anew
from service.room.ensembles import Ensembles
from service.room.estimate import ZoneEstimate
from service.room.expected import Expected
from service.room.hung_in import Hung, in_one_air
from service.room.lesson import doubt_left, lesson, made_from
from service.room.own_numbers import (
    NOTHING_LEARNED,
    Learned,
    Own,
    furthest_apart,
    own_numbers,
    packed,
    unpacked,
)
from service.room.past_changes import PastChanges
from service.room.progress import Progress, lives
from service.room.spread import DOUBT
from service.room.stories import story
from service.room.sureness import Sureness
from service.room.teachings import Teachings
from service.room.told_on import EACH_S, ToldOn, all_told

log = logging.getLogger(__name__)

TOGETHER = 12
"""So many moulds are worked on at once, so that the first of many is known soon."""
NOTABLE = 0.05
"""A mould is worked out anew when what others taught moved one of its numbers by more than 5 % (our choice)."""
TRIED_AGAIN_S = 3600.0
"""One that could not be worked out is tried again so much later, or once anything is new of it."""
CANNOT = (FloatingPointError, ValueError, np.linalg.LinAlgError)


@dataclass(frozen=True)
class _Mould:
    """What follows from a mould's facts, as long as they stay.

    of: its coats and rooms. heard: all that hands said of it. by_hand: its story by these; None: it has no coat yet.
    """

    p: Progress
    anew: Anew
    of: str
    heard: str
    by_hand: Story | None


@dataclass(frozen=True)
class _Known:
    """What a mould was last worked out of, and its numbers since; heard "": these are the shop's alone.

    shop: what the shop led to expect of it then. failed_at_s: it could not be worked out.
    """

    heard: str
    told: tuple[ToldOn, ...]
    own: Own
    shop: Own
    doubt: tuple[float, ...] = DOUBT
    failed_at_s: float | None = None


class Learner:
    """sureness: how sure the shop wants its bells to be, asked anew each time."""

    def __init__(
        self,
        records: Records,
        parameters: Parameters,
        past: PastChanges,
        sureness: Callable[[], Sureness] = Sureness,
        members: int = MEMBERS,
    ) -> None:
        self._records, self._parameters, self._past = records, parameters, past
        self._sureness, self._members = sureness, members
        self.teachings = Teachings(records, parameters, past)
        self.ensembles = Ensembles(parameters)
        self._moulds: dict[int, _Mould] = {}
        self._known: dict[int, _Known] = {}
        self._told: dict[int, tuple[tuple[int, int], tuple[ToldOn, ...]]] = {}
        self._forgotten: Counter[int] = Counter()
        self._compared = -1
        self._anew: tuple[int, Anew] = (-1, Anew())
        self._lock = threading.Lock()

    # What a look asks

    def own(self, p: Progress, now: datetime) -> Own:
        """The likeliest numbers of a mould: its own, and for dips newer than these, the shop's."""
        mould, known = self._mould(p), self._known.get(p.mould_id)
        if mould.by_hand is None:
            return ()
        if known is not None and _fits(known.own, p):
            return known.own
        shop = self._shop(mould.by_hand, now)
        mine = known.own if known is not None and len(known.own) == len(shop) else ()
        own = tuple(one.then(other) for one, other in zip(mine, shop, strict=True)) if mine else shop
        with self._lock:
            known = self._known.get(p.mould_id) or _Known("", (), own, shop)
            self._known[p.mould_id] = replace(known, own=own)
        return own

    def learned(self, p: Progress, now: datetime) -> Learned:
        """What a mould's whole life is worked out with, of one that hangs or has left."""
        if p.ended is None:
            own, known = self.own(p, now), self._known.get(p.mould_id)
            return Learned(own, known.doubt if known else DOUBT)
        it = self.teachings.lesson(p.mould_id)
        fits = it is not None and len(it.own) in (0, len(p.body.zones))
        return Learned(it.own, it.doubt) if it is not None and fits else NOTHING_LEARNED

    def numbers_of(self, mould_id: int) -> str | None:
        """Which numbers a mould was left with; None: it is still to be worked in."""
        return self.teachings.numbers_of(mould_id)

    @property
    def of_the_ended(self) -> int:
        """Counts up with each change of what those that left taught."""
        return self.teachings.of_the_ended

    def expected(self, p: Progress, zones: Sequence[ZoneEstimate], now: datetime) -> Expected | None:
        """When what it waits for is reached, as surely as the shop wants; None: nobody knows."""
        return self.ensembles.expected(p, self._mould(p).of, zones, self._wanted(p), now.timestamp())

    def _wanted(self, p: Progress) -> float:
        sureness, step = self._sureness(), p.last_step
        return sureness.dewax if p.for_dewax or step is None else sureness.of(step.kind)

    def follow(self) -> Anew:
        """Take in what is to be learned anew, by the ledger as it is now."""
        number = self._records.last_fact_number()
        if self._anew[0] != number:
            before, now = self._anew[1], Anew(self._records.anew_facts())
            self._anew = number, before if before == now else now
        return self._anew[1]

    def _mould(self, p: Progress) -> _Mould:
        found, anew = self._moulds.get(p.mould_id), self._anew[1]
        if found is None or found.p is not p or found.anew is not anew:
            by_hand = None if p.body.from_notebook else story(p, math.inf, anew)
            heard = made_from(by_hand) if by_hand is not None else ""
            found = self._moulds[p.mould_id] = _Mould(p, anew, _coats_and_rooms(p), heard, by_hand)
        return found

    def _shop(self, by_hand: Story, now: datetime) -> Own:
        return own_numbers(learned_numbers(by_hand, self.teachings.belief(now.timestamp())))

    # What becomes of a mould

    @property
    def kept(self) -> set[int]:
        return set(self._moulds) | self.ensembles.kept

    def forget(self, mould_id: int) -> None:
        """Its past air was other than thought; what is being worked out just now counts no more."""
        self._forgotten[mould_id] += 1
        self.ensembles.forget(mould_id)

    def end(self, mould_id: int) -> None:
        """It does not hang here any more."""
        self.forget(mould_id)
        self.ensembles.end(mould_id)
        with self._lock:
            for kept in (self._moulds, self._known, self._told):
                kept.pop(mould_id, None)

    def packed(self, p: Progress) -> dict[str, Any]:
        """What is to be kept over a restart, as plain data."""
        known = self._known.get(p.mould_id)
        found = self.ensembles.packed(p.mould_id)
        return found if known is None else {**found, "own": packed(known.own), "shop": packed(known.shop)}

    def restore(self, p: Progress, kept: Mapping[str, Any]) -> None:
        """Take it back: numbers at once, members once they are worked out anew."""
        self.ensembles.restore(p.mould_id, kept)
        if "own" in kept:
            self._known[p.mould_id] = _Known("", (), unpacked(kept["own"]), unpacked(kept["shop"]))

    # On a tick of its own

    def wants(self, moulds: Sequence[Progress], now: datetime) -> bool:
        """Whether there is anything to do for the moulds that hang."""
        now_s = now.timestamp()
        return bool(self._to_work_out(moulds, now) or self.ensembles.wanting(self._wet(moulds, now_s), now_s))

    def work_out(self, hanging: Sequence[Hung], now: datetime) -> bool:
        """Some of what there is to do. Returns whether anything is known that was not before."""
        by_number, now_s = {one.p.mould_id: one for one in hanging}, now.timestamp()
        moulds = [one.p for one in hanging]
        new = [by_number[p.mould_id] for p in self._to_work_out(moulds, now)[:TOGETHER]]
        done = [self._in_one_go(group, now) for group in in_one_air(new)]
        old = self.ensembles.wanting(self._wet(moulds, now_s), now_s)[:TOGETHER]
        for group in in_one_air([by_number[p.mould_id] for p in old]):
            self._renew(group, now)
        return any(done)

    def _wet(self, moulds: Iterable[Progress], now_s: float) -> list[tuple[Progress, str]]:
        return [(p, self._mould(p).of) for p in moulds if p.dips and p.dips[-1].at.timestamp() <= now_s]

    def _to_work_out(self, moulds: Sequence[Progress], now: datetime) -> list[Progress]:
        """Those of which no times are known, then those of which anything was heard, then those without members."""
        found: list[tuple[int, Progress]] = []
        wet = [p for p, _ in self._wet(moulds, now.timestamp()) if not self._gave_up(p, now)]
        for p in wet:
            mould, known = self._mould(p), self._known.get(p.mould_id)
            if not self.ensembles.knows(p, mould.of):
                found.append((0, p))
            elif known is None or known.failed_at_s is not None:
                found.append((2, p))
            elif known.heard != mould.heard or known.told != self.told(p, now):
                found.append((1 if known.heard else 2, p))
            elif not self.ensembles.has_members(p, mould.of, now.timestamp()):
                found.append((2, p))
        in_order = sorted(found, key=lambda each: each[0])
        return [p for _, p in in_order] or self._taught_by_others(wet, now)

    def _gave_up(self, p: Progress, now: datetime) -> bool:
        known = self._known.get(p.mould_id)
        if known is None or known.failed_at_s is None or known.heard != self._mould(p).heard:
            return False
        return 0.0 <= now.timestamp() - known.failed_at_s < TRIED_AGAIN_S

    def _taught_by_others(self, wet: Sequence[Progress], now: datetime) -> list[Progress]:
        """Looked for only when anything was taught since."""
        if self._compared == self.teachings.version:
            return []
        found = [
            p for p in wet if furthest_apart(self._known[p.mould_id].shop, self._shop_of(p, now)) > NOTABLE
        ]
        if not found:
            self._compared = self.teachings.version
        return found

    def _shop_of(self, p: Progress, now: datetime) -> Own:
        by_hand = self._mould(p).by_hand
        return self._shop(by_hand, now) if by_hand is not None else ()

    def told(self, p: Progress, now: datetime) -> tuple[ToldOn, ...]:
        """What the sensors on a mould told, asked for once a half hour."""
        if not p.sensors:
            return ()
        asked = int(now.timestamp() // EACH_S), p.sensors[-1].number
        before = self._told.get(p.mould_id)
        if before is None or before[0] != asked:
            before = self._told[p.mould_id] = asked, all_told(p, self._records, now)
        return before[1]

    def _in_one_go(self, group: Sequence[Hung], now: datetime) -> bool:
        """Moulds of one air together; if that fails each alone, so that one that cannot be done stops no other."""
        moulds = [self._mould(one.p) for one in group]
        told = [self.told(one.p, now) for one in group]
        before = [self._forgotten[one.p.mould_id] for one in group]
        knows_of = self._past.number
        try:
            stories, learnt = self._smoothed(group, told, now)
        except CANNOT as error:
            if len(group) > 1:
                alone = [self._in_one_go([one], now) for one in group]
                return any(alone)
            log.info("mould %d could not be smoothed: %s", group[0].p.mould_id, error)
            self._give_up(group[0].p, moulds[0], told[0], now)
            return False
        same = [i for i, one in enumerate(group) if self._forgotten[one.p.mould_id] == before[i]]
        if not same:
            return False
        for i in same:
            self._keep(moulds[i], stories[i], told[i], learnt[i], knows_of, now)
        for i in same:
            self._note(moulds[i], told[i], learnt[i], now)
        self._put([group[i] for i in same], [moulds[i].of for i in same], [learnt[i] for i in same], now)
        return True

    def _smoothed(
        self, group: Sequence[Hung], told: Sequence[Sequence[ToldOn]], now: datetime
    ) -> tuple[list[Story], list[Learnt]]:
        now_s, anew = now.timestamp(), self._anew[1]
        found = [story(one.p, now_s, anew, its) for one, its in zip(group, told, strict=True)]
        stories = [each for each in found if each is not None]
        beliefs = [self.teachings.belief(now_s, without=each.mould) for each in stories]
        air = group[0].air.series
        return stories, assimilate(stories, beliefs, air, self._parameters, self._members)

    def _put(self, group: Sequence[Hung], of: Sequence[str], learnt: Sequence[Learnt], now: datetime) -> None:
        try:
            self.ensembles.put(group, of, learnt, now.timestamp())
        except FloatingPointError as error:
            log.info("some moulds could not be foreseen: %s", error)

    def _renew(self, group: Sequence[Hung], now: datetime) -> None:
        of = [self._mould(one.p).of for one in group]
        try:
            self.ensembles.renew(group, of, now.timestamp())
        except FloatingPointError:
            for one in group:
                self.ensembles.forget(one.p.mould_id)

    def _keep(
        self,
        mould: _Mould,
        told_of: Story,
        told: Sequence[ToldOn],
        learnt: Learnt,
        knows_of: int,
        now: datetime,
    ) -> None:
        """What nothing was heard of needs not be kept while it hangs; what was left out is shown all the same."""
        p = mould.p
        if not learnt.heard and not self.teachings.has(p.mould_id):
            return
        rooms = frozenset(room_id for _, room_id in p.rooms)
        it = lesson(told_of, mould.heard, learnt, rooms, ended=False)
        try:
            self.teachings.keep(it, 0, mould.anew, knows_of, now)
        except ShopError as error:  # it is only a cache
            log.warning("what mould %d taught is not kept: %s", p.mould_id, error)

    def _note(self, mould: _Mould, told: tuple[ToldOn, ...], learnt: Learnt, now: datetime) -> None:
        own, shop = own_numbers(learnt.numbers), self._shop_of(mould.p, now)
        with self._lock:
            self._known[mould.p.mould_id] = _Known(mould.heard, told, own, shop, doubt_left(learnt.laid))

    def _give_up(self, p: Progress, mould: _Mould, told: tuple[ToldOn, ...], now: datetime) -> None:
        shop = self._shop_of(p, now)
        with self._lock:
            known = self._known.get(p.mould_id) or _Known("", (), shop, shop)
            failed_at_s = now.timestamp()
            self._known[p.mould_id] = replace(known, heard=mould.heard, told=told, failed_at_s=failed_at_s)


def _fits(own: Own, p: Progress) -> bool:
    return len(own) == len(p.body.zones) and own[0].dips >= p.coats_given


def _coats_and_rooms(p: Progress) -> str:
    return hashlib.sha256(repr((lives(p, 0.0), p.rooms)).encode()).hexdigest()
