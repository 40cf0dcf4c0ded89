"""Every mould's life as it was worked out once, kept in the records: audits and comparisons need not wait for it.

It is a cache. What is kept counts as long as it was made of the same dips, zones, rooms and limits, in the same way,
and nothing became known of its air since. How a piece came out is never kept: that is asked of the facts.
"""

from __future__ import annotations

import hashlib
import logging
import threading
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any, Protocol

from service.drying.shell import Parameters
from service.errors import ShopError, Unavailable
from service.records.ended_store import OF_ITS_MAKING
from service.records.facts import DipBody, EndedBody, Fact, ResultBody
from service.records.store import Records
from service.records.worked_out_store import WorkedOut
from service.room.air_book import RoomAir
from service.room.audit import coat_audits, final_dry
from service.room.last_check import LastChecks
from service.room.own_numbers import NOTHING_LEARNED, Learned
from service.room.past_changes import PastChanges
from service.room.progress import Progress, lives, progress
from service.room.shell_summary import factors
from service.room.views import Factor, ShellSummary
from service.room.waits import WORKED, SoFar, Wait, Worked, all_waits, carried_on, work_out

METHOD = "waits 3"
"""Another name where the way of working out changes, so that what older programs left is made anew."""
SETTLES = timedelta(minutes=20)
"""Readings of a moment come this much later at most, or count as a change of the past air."""
OF_THE_DAY = {
    *("dip", "wires", "check", "weight", "face", "sensor on"),
    *("note", "photo", "told", "learn anew"),
}
"""Kinds of facts that make no mould a finished one, and no finished one another."""
LOOKED_AGAIN = timedelta(minutes=5)

log = logging.getLogger(__name__)

PastAir = Callable[[Progress, datetime], RoomAir | None]
State = tuple[int, int, int, int]


class Taught(Protocol):
    """What was learned of each mould."""

    def learned(self, p: Progress, now: datetime) -> Learned:
        """What its life is worked out with."""

    def numbers_of(self, mould_id: int) -> str | None:
        """Which numbers a mould that left was worked in with, as `Learned.digest`; None: it is still to be."""

    @property
    def of_the_ended(self) -> int:
        """Counts up with each change of those."""


class NothingTaught:
    """Every mould dries as usual."""

    of_the_ended = 0

    def learned(self, p: Progress, now: datetime) -> Learned:
        return NOTHING_LEARNED

    def numbers_of(self, mould_id: int) -> str | None:
        return NOTHING_LEARNED.digest


@dataclass(frozen=True)
class _Shelved:
    """What is in hand of a finished mould.

    air: the change of the past air it knows of. outcome: as it was said when it left. dips: (tank, when).
    numbers: which it was worked out with.
    """

    fact_number: int
    made_at: datetime
    air: int
    outcome: str
    rooms: frozenset[int]
    dips: tuple[tuple[str, datetime], ...]
    numbers: str
    summary: ShellSummary

    def to_settle(self, now: datetime) -> bool:
        """Whether it was made before all its readings were in, and they are by now."""
        settled_at = self.summary.ended_at + SETTLES
        return self.made_at < settled_at <= now


class Archive:
    """past_air: the air a mould hung in, up to a time. taught: what was learned of each; None: nothing ever is."""

    def __init__(
        self,
        records: Records,
        past_air: PastAir,
        parameters: Parameters,
        past: PastChanges,
        taught: Taught | None = None,
    ) -> None:
        self._records, self._past_air, self._parameters, self._past = records, past_air, parameters, past
        self._taught = taught or NothingTaught()
        self.method = f"{METHOD} {hashlib.sha256(repr(parameters).encode()).hexdigest()[:12]}"
        self._shelf: dict[int, _Shelved] | None = None
        self._given_up: dict[int, tuple[int, datetime]] = {}
        self._running: dict[int, tuple[tuple[str, int], SoFar]] = {}
        self._idle: tuple[State, datetime] | None = None
        self._lock = threading.Lock()
        self._last: tuple[State, list[ShellSummary], int] | None = None
        self._saved = 0

    # One mould

    def worked(self, p: Progress, facts: list[Fact], now: datetime) -> Worked:
        """The waits of a mould that are over: as kept, or worked out now and kept."""
        kept, learned = self._records.worked_out(p.mould_id), self._taught.learned(p, now)
        if kept is not None and self._holds(kept, p, learned, now):
            return WORKED.validate_python(kept.found["worked"])
        return self._make(p, facts, learned, now)

    def waits(self, p: Progress, facts: list[Fact], now: datetime) -> tuple[Wait, ...]:
        """Every wait of a mould up to now. What runs is carried on from where all its readings were in."""
        worked, now_s, learned = self.worked(p, facts, now), _not_before(p, now), self._taught.learned(p, now)
        if len(worked.over) == len(p.dips) or p.body.from_notebook:
            return all_waits(p, worked, None, self._parameters, now_s)
        knows_of = self._past.number
        air = self._past_air(p, now)
        so_far = None
        if air is not None and worked.laid:
            so_far = self._so_far(p, worked, air, now, knows_of, learned)
        return all_waits(p, worked, air, self._parameters, now_s, so_far, learned)

    def _so_far(
        self, p: Progress, worked: Worked, air: RoomAir, now: datetime, knows_of: int, learned: Learned
    ) -> SoFar | None:
        """Up to when no reading is to come any more; kept in memory alone."""
        settled_s = (now - SETTLES).timestamp()
        if settled_s <= p.dips[-1].at.timestamp() or not _has_begun(air, p.dips[-1].at, now):
            return None
        made = (made_from(p, learned), knows_of)
        before = self._running.get(p.mould_id)
        start = before[1] if before is not None and before[0] == made else SoFar(())
        if any(one.state.time_s > settled_s for one in start.dried):
            return start
        found = carried_on(p, worked.laid, air, self._parameters, settled_s, start, learned)
        self._running[p.mould_id] = (made, found)
        return found

    def _holds(self, kept: WorkedOut, p: Progress, learned: Learned, now: datetime) -> bool:
        until = _until(p)
        return (
            kept.method == self.method
            and kept.found.get("made_from") == made_from(p, learned)
            and (kept.at >= until + SETTLES or now < until + SETTLES)
            and not self._past.other_since(kept.found["air"], {room for _, room in p.rooms}, until)
        )

    def _make(self, p: Progress, facts: list[Fact], learned: Learned, now: datetime) -> Worked:
        knows_of, until = self._past.number, _until(p)
        air = None if p.body.from_notebook else self._past_air(p, until if p.ended else max(now, until))
        worked = work_out(p, air, self._parameters, until.timestamp(), learned)
        if p.ended is not None or (air is not None and _has_begun(air, until, now)):
            self._keep(p, facts, worked, now, knows_of, learned)
        return worked

    def _keep(
        self,
        p: Progress,
        facts: list[Fact],
        worked: Worked,
        now: datetime,
        knows_of: int,
        learned: Learned,
    ) -> None:
        """Keep it, and a finished mould's numbers beside it."""
        found: dict[str, Any] = {
            "made_from": made_from(p, learned),
            "numbers": learned.digest,
            "air": knows_of,
            "worked": WORKED.dump_python(worked, mode="json"),
        }
        if p.ended is not None:
            found["shell"] = _shell(p, worked)
        kept = WorkedOut(p.mould_id, newest_of_its_making(facts), self.method, now, found)
        try:
            self._records.save_worked_out(kept)
        except Unavailable as error:  # it is only a cache: who asked gets the answer all the same
            log.info("what was worked out of mould %d is not kept: %s", p.mould_id, error)
            self._given_up[p.mould_id] = kept.fact_number, now
            return
        with self._lock:
            self._saved += 1
            if self._shelf is not None:
                self._shelf.pop(p.mould_id, None)
                if p.ended is not None:
                    self._shelf[p.mould_id] = _shelved(kept)

    # All that are finished

    def finished_shells(self) -> list[ShellSummary]:
        """What is worked out of the moulds that left, with how each came out; those still to be are left out."""
        return self._finished()[0]

    def still_to_do(self) -> int:
        """How many finished moulds are not among them yet."""
        return self._finished()[1]

    def _finished(self) -> tuple[list[ShellSummary], int]:
        state, last = self.state, self._last
        if last is not None and last[0] != state and self._same_for_the_finished(last[0], state):
            last = self._last = (state, *last[1:])
        if last is None or last[0] != state:
            ended, shelf = self._records.ended_moulds(), self._in_hand()
            good = [shelf[i] for i, number in ended.items() if self._good(i, shelf.get(i), number)]
            last = (state, self._judged(good), len(ended) - len(good))
            self._last = last
        return last[1], last[2]

    @property
    def state(self) -> State:
        """What, as long as it stays, leaves everything here as it is."""
        number = self._records.last_fact_number()
        return number, self._saved, self._past.number, self._taught.of_the_ended

    def _same_for_the_finished(self, before: State, now: State) -> bool:
        """Whether all that was told since is about moulds that hang: day by day it is hardly ever anything else."""
        if before[1:] != now[1:]:
            return False
        finished = self._in_hand()
        return all(
            kind in OF_THE_DAY and mould_id not in finished
            for kind, mould_id in self._records.told_since(before[0])
        )

    def _good(self, mould_id: int, shelved: _Shelved | None, number: int) -> bool:
        if shelved is None or shelved.fact_number != number:
            return False
        if self._taught.numbers_of(mould_id) not in (None, shelved.numbers):
            return False
        return not self._past.other_since(shelved.air, shelved.rooms, shelved.summary.ended_at)

    def _judged(self, good: Iterable[_Shelved]) -> list[ShellSummary]:
        """How each came out and how old its tanks' checks were is asked of the facts that hold now."""
        results, checks = self._records.results(), LastChecks(self._records.tank_facts())
        return [_judged(each, results.get(each.summary.mould_id), checks) for each in good]

    def _in_hand(self) -> dict[int, _Shelved]:
        with self._lock:
            if self._shelf is None:
                rows = self._records.each_worked_out(self.method)
                self._shelf = {row.mould_id: _shelved(row) for row in rows if "shell" in row.found}
            return dict(self._shelf)

    # In the background

    def work_out_some(self, now: datetime, for_s: float) -> int:
        """Work out moulds whose life is not kept yet, those that hang first, then the newest; one at least if any.

        Returns how many were. Ends after the mould with which `for_s` seconds are spent.
        """
        began, done, state = time.monotonic(), 0, self.state
        if self._idle is not None and self._idle[0] == state and _a_moment_ago(self._idle[1], now):
            return 0
        for mould_id in self._to_do(now):
            self._work_out(mould_id, now)
            done += 1
            if time.monotonic() - began >= for_s:
                break
        self._idle = (state, now) if not done else None
        return done

    def _to_do(self, now: datetime) -> list[int]:
        shelf, ended = self._in_hand(), self._records.ended_moulds()
        late = [
            i
            for i, number in sorted(ended.items(), reverse=True)
            if not self._rests(i, number, now)
            and self._taught.numbers_of(i) is not None
            and (not self._good(i, shelf.get(i), number) or shelf[i].to_settle(now))
        ]
        return [*self._hanging_to_do(now), *late]

    def _hanging_to_do(self, now: datetime) -> list[int]:
        found = []
        for mould_id in self._records.mould_ids(ended=False):
            facts = self._records.facts(mould_id)
            p, kept = progress(mould_id, facts), self._records.worked_out(mould_id)
            if not p.dips or self._rests(mould_id, newest_of_its_making(facts), now):
                continue
            if kept is None or not self._holds(kept, p, self._taught.learned(p, now), now):
                found.append(mould_id)
        return found

    def _rests(self, mould_id: int, number: int, now: datetime) -> bool:
        """Whether it was given up a moment ago: its numbers cannot be worked with, or it had no air yet."""
        before = self._given_up.get(mould_id)
        return before is not None and before[0] == number and _a_moment_ago(before[1], now)

    def _work_out(self, mould_id: int, now: datetime) -> None:
        facts = self._records.facts(mould_id)
        p = progress(mould_id, facts)
        number = newest_of_its_making(facts)
        self._given_up.pop(mould_id, None)
        learned = self._taught.learned(p, now)
        try:
            kept = self._kept_anew(p, facts, learned, now)
            if not kept and not self._make(p, facts, learned, now).laid and p.ended is None:
                self._given_up[mould_id] = number, now
        except ShopError as error:
            log.warning("mould %d could not be worked out: %s", mould_id, error)
            self._given_up[mould_id] = number, now

    def _kept_anew(self, p: Progress, facts: list[Fact], learned: Learned, now: datetime) -> bool:
        """What a new fact left as it is, such as a name, needs no working out again."""
        kept = self._records.worked_out(p.mould_id)
        if kept is None or not self._holds(kept, p, learned, now):
            return False
        worked = WORKED.validate_python(kept.found["worked"])
        self._keep(p, facts, worked, kept.at, kept.found["air"], learned)
        return True


def made_from(p: Progress, learned: Learned = NOTHING_LEARNED) -> str:
    """What a mould's worked-out life hangs on, but for the air: the same text, the same life."""
    said = (
        [replace(life, until_s=0.0) for life in lives(p, 0.0, learned.own)],
        learned.doubt,
        [dip.body.coat_kind.value for dip in p.dips if isinstance(dip.body, DipBody)],
        p.body.zones,
        (p.recipe.prime_air, p.recipe.backup_air),
        p.started_at,
        p.rooms,
        p.ended.at if p.ended else None,
        p.body.from_notebook,
    )
    return hashlib.sha256(repr(said).encode()).hexdigest()


def newest_of_its_making(facts: Iterable[Fact]) -> int:
    """The newest fact that says how the shell was made."""
    return max(fact.number for fact in facts if fact.body.kind in OF_ITS_MAKING)


def _a_moment_ago(at: datetime, now: datetime) -> bool:
    """Not for ever where the clock was set back."""
    return timedelta(0) <= now - at < LOOKED_AGAIN


def _has_begun(air: RoomAir, until: datetime, now: datetime) -> bool:
    """Whether the first air that was measured stands: it also counts for what came before it."""
    first_s = float(air.series.time_s[air.measured][0])
    return first_s <= until.timestamp() or first_s <= (now - SETTLES).timestamp()


def _not_before(p: Progress, now: datetime) -> float:
    """A clock set back may lag behind the newest dip for a while."""
    return max([now.timestamp(), *(dip.at.timestamp() for dip in p.dips)])


def _until(p: Progress) -> datetime:
    """Up to when a mould's life is over: its end, or its newest dip."""
    last = p.last_dip.at if p.last_dip else p.started_at
    return max(p.ended.at, last) if p.ended else last


def _shell(p: Progress, worked: Worked) -> dict[str, Any]:
    """A finished mould's numbers as plain data."""
    coats = coat_audits(p, worked.over)
    found = factors(p, coats, final_dry(p, worked.over))
    return {
        "name": p.body.name,
        "recipe": p.recipe.title,
        "started_at": p.started_at.isoformat(),
        "ended_at": _until(p).isoformat(),
        "outcome": p.ended.body.outcome if p.ended and isinstance(p.ended.body, EndedBody) else "",
        "rooms": sorted({room for _, room in p.rooms}),
        "dips": [(dip.body.tank, dip.at.isoformat()) for dip in p.dips if isinstance(dip.body, DipBody)],
        "factors": {factor.value: value for factor, value in found.items()},
    }


def _shelved(kept: WorkedOut) -> _Shelved:
    shell: Mapping[str, Any] = kept.found["shell"]
    summary = ShellSummary(
        mould_id=kept.mould_id,
        name=shell["name"],
        recipe=shell["recipe"],
        started_at=_instant(shell["started_at"]),
        ended_at=_instant(shell["ended_at"]),
        verdict=None,
        faults=(),
        factors={Factor(name): value for name, value in shell["factors"].items()},
    )
    dips = tuple((tank, _instant(at)) for tank, at in shell["dips"])
    return _Shelved(
        kept.fact_number,
        kept.at,
        kept.found["air"],
        shell["outcome"],
        frozenset(shell["rooms"]),
        dips,
        kept.found["numbers"],
        summary,
    )


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(UTC)


def _judged(shelved: _Shelved, result: Fact | None, checks: LastChecks) -> ShellSummary:
    """A shell that failed in the shell room failed, whether or not anybody said more of it later."""
    body = result.body if result is not None and isinstance(result.body, ResultBody) else None
    said = "failed" if shelved.outcome == "failed" else None
    age = {Factor.TANK_AGE: checks.oldest_age_s(shelved.dips)}
    return replace(
        shelved.summary,
        verdict=body.verdict if body else said,
        faults=tuple(failing.fault for failing in body.failings) if body else (),
        factors={**shelved.summary.factors, **age},
    )
