"""Moulds that left the shell room: each is worked in once with all that was heard of it, the oldest first."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from service.drying.shell import Parameters
from service.errors import ShopError
from service.learning.smoother import MEMBERS, assimilate
from service.records.ended_store import OF_ITS_TEACHING
from service.records.store import Records
from service.room.air_book import RoomAir
from service.room.anew import Anew
from service.room.learner import CANNOT
from service.room.lesson import Lesson, lesson, made_from
from service.room.past_changes import PastChanges
from service.room.progress import Progress, progress
from service.room.spread import DOUBT
from service.room.stories import story
from service.room.teachings import Teachings
from service.room.told_on import ToldOn, all_told

log = logging.getLogger(__name__)

LOOKED_AGAIN = timedelta(minutes=5)
"""So long one rests that could not be kept, and all of them once nothing was left to do."""

PastAir = Callable[[Progress, datetime], RoomAir | None]
State = tuple[int, int, int]


class Finished:
    """past_air: the air a mould hung in, up to a time. anew: what is to be learned anew, as of now."""

    def __init__(
        self,
        records: Records,
        parameters: Parameters,
        teachings: Teachings,
        past: PastChanges,
        past_air: PastAir,
        anew: Callable[[], Anew],
        members: int = MEMBERS,
    ) -> None:
        self._records, self._parameters, self._teachings = records, parameters, teachings
        self._past, self._past_air, self._anew, self._members = past, past_air, anew, members
        self._idle: tuple[State, datetime] | None = None
        self._rests: dict[int, tuple[int, datetime]] = {}

    def work_out_some(self, now: datetime, for_s: float) -> int:
        """Work in moulds that were not yet, one at least if any. Returns how many were.

        Ends after the mould with which `for_s` seconds are spent.
        """
        state = self._state
        if self._idle is not None and self._idle[0] == state and _a_moment_ago(self._idle[1], now):
            return 0
        began, done = time.monotonic(), 0
        for mould_id, number in self._to_do(now):
            self._work_in(mould_id, number, now)
            done += 1
            if time.monotonic() - began >= for_s:
                break
        self._idle = (state, now) if not done else None
        return done

    @property
    def _state(self) -> State:
        return self._records.last_fact_number(), self._teachings.of_the_ended, self._past.number

    def _to_do(self, now: datetime) -> list[tuple[int, int]]:
        anew = self._anew()
        ended = self._records.ended_moulds(OF_ITS_TEACHING)
        return [
            (mould_id, number)
            for mould_id, number in sorted(ended.items())
            if not self._teachings.holds(mould_id, number, anew, now)
            and not self._resting(mould_id, number, now)
        ]

    def _resting(self, mould_id: int, number: int, now: datetime) -> bool:
        before = self._rests.get(mould_id)
        return before is not None and before[0] == number and _a_moment_ago(before[1], now)

    def _work_in(self, mould_id: int, number: int, now: datetime) -> None:
        facts, knows_of = self._records.facts(mould_id), self._past.number
        try:
            it = self._lesson(progress(mould_id, facts), now)
            self._teachings.keep(it, number, self._anew(), knows_of, now)
        except ShopError as error:
            log.warning("what mould %d taught is not kept: %s", mould_id, error)
            self._rests[mould_id] = number, now

    def _lesson(self, p: Progress, now: datetime) -> Lesson:
        """What it taught; nothing, if it was never measured or cannot be worked out."""
        until, anew = _until(p), self._anew()
        told, by_hand = all_told(p, self._records, until), story(p, float("inf"), anew)
        its = None if p.body.from_notebook else story(p, until.timestamp(), anew, told)
        if its is None or by_hand is None:
            return _nothing(p, until)
        heard, before = made_from(by_hand), self._teachings.lesson(p.mould_id)
        if before is not None and before.made_from == heard and self._stands(p, before, told):
            return replace(before, until=until, ended=True)
        air = self._past_air(p, until)
        if air is None:
            return _nothing(p, until)
        try:
            belief = self._teachings.belief(now.timestamp(), without=p.mould_id)
            (learnt,) = assimilate([its], [belief], air.series, self._parameters, self._members)
        except CANNOT as error:
            log.info("mould %d could not be smoothed: %s", p.mould_id, error)
            return _nothing(p, until)
        return lesson(its, heard, learnt, _rooms(p), ended=True)

    def _stands(self, p: Progress, before: Lesson, told: Sequence[ToldOn]) -> bool:
        """Of the same facts: made of readings that are gone by now, or of all there are and the same air."""
        thinned_out = not told and any(each.number is None for each in before.heard)
        whole = before.ended or not p.sensors
        return thinned_out or (whole and not self._teachings.other_air(p.mould_id))


def _nothing(p: Progress, until: datetime) -> Lesson:
    last_s = p.dips[-1].at.timestamp() if p.dips else p.started_at.timestamp()
    return Lesson(p.mould_id, "", (), DOUBT, None, (), last_s, until, _rooms(p), ended=True)


def _rooms(p: Progress) -> frozenset[int]:
    return frozenset(room_id for _, room_id in p.rooms)


def _until(p: Progress) -> datetime:
    """Up to when a mould's life is over."""
    last = p.last_dip.at if p.last_dip else p.started_at
    return max(p.ended.at, last) if p.ended else last


def _a_moment_ago(at: datetime, now: datetime) -> bool:
    return timedelta(0) <= now - at < LOOKED_AGAIN
