"""Times in which coatbell did not run, and the report about each: told once, also where the power fails again."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from threading import Lock

from service.alerts.after_a_cut import Blind
from service.alerts.conditions import Condition
from service.alerts.keys import moment, stem
from service.alerts.kinds import Kind
from service.alerts.message import Message
from service.clock_faults import Memory
from service.heartbeat import Gap, How
from service.held import Held
from service.room.views import Board, Trouble
from service.voice import later

CUTS = "times not run"
READINGS_WITHIN = timedelta(minutes=10)
"""So long the report waits for the first readings; then it says that there are none yet."""
SHOWN_FOR = timedelta(hours=8)
TOLD_FOR = timedelta(days=3)
"""Over a week-end somebody may be told only on Monday."""
WHY = {
    How.STOPPED: later("it had been stopped"),
    How.CUT: later("it ended in the middle, as when the power fails"),
    How.STOOD_STILL: later("it stood still, as when the machine sleeps"),
}


@dataclass(frozen=True, slots=True)
class Cut:
    """One of them. The rest is empty until the report is made."""

    since: datetime
    until: datetime
    how: How
    made_at: datetime | None = None
    title: str = ""
    body: str = ""

    @property
    def blind(self) -> Blind:
        return Blind(self.since, self.until, WHY[self.how])


class Cuts:
    """`note` a gap, `make_report` when the air is known again; what is to be told and shown is kept over a restart.

    A cut that comes before the report of the one before was made joins it; a later one has a report of its own.
    """

    def __init__(self, memory: Memory, told_from_s: float) -> None:
        self._memory, self._told_from_s = memory, told_from_s
        self._lock = Lock()
        self._messages: dict[datetime, Message] = {}  # by when a cut began; they can be said anew
        self._cuts = [_unpacked(packed) for packed in json.loads(memory.recall(CUTS) or "[]")]

    def take(self, told_from_s: float) -> None:
        """From how long a cut on it is told, from now on."""
        self._told_from_s = told_from_s

    def note(self, gap: Gap) -> None:
        """A time in which coatbell did not run, however short."""
        if gap.length_s < self._told_from_s:
            return
        with self._lock:
            waiting = next((cut for cut in self._cuts if cut.made_at is None), None)
            since = min(waiting.since, gap.since) if waiting else gap.since
            others = [cut for cut in self._cuts if cut is not waiting and cut.since != since]
            self._keep([*others, Cut(since, gap.until, gap.how)])

    def make_report(self, board: Board, write: Callable[[Blind], Message]) -> None:
        """Make the report that is waited for, if the rooms are heard again or that has been waited for long enough."""
        waiting = next((cut for cut in self._cuts if cut.made_at is None), None)
        if waiting is None or not _known_again(board, waiting.until):
            return
        message = write(waiting.blind)
        made = replace(waiting, made_at=board.at, title=message.title, body=message.body)
        with self._lock:
            if waiting in self._cuts:  # else another cut has joined it meanwhile
                self._messages = {waiting.since: message}
                self._keep([made if cut == waiting else cut for cut in self._cuts])

    def conditions(self) -> list[Condition]:
        """The reports to be told."""
        return [self._condition(cut) for cut in self._cuts if cut.made_at is not None]

    def troubles(self, now: datetime) -> list[Trouble]:
        """The reports, for the board; what lies back for days is forgotten."""
        with self._lock:
            kept = [cut for cut in self._cuts if not _made_before(cut, now, TOLD_FOR)]
            if len(kept) < len(self._cuts):
                self._keep(kept)
        shown = [cut for cut in kept if cut.made_at and not _made_before(cut, now, SHOWN_FOR)]
        return [Trouble("after_a_cut", Held(partial(_in_one, self._message(cut))), None) for cut in shown]

    def _condition(self, cut: Cut) -> Condition:
        key = stem(Kind.AFTER_A_CUT, moment(cut.since))
        return Condition(Kind.AFTER_A_CUT, key, key, "coatbell", cut.since, True, self._message(cut))

    def _message(self, cut: Cut) -> Message:
        """A report made before a restart has only the words it was kept in."""
        return self._messages.get(cut.since) or Message(cut.title, cut.body)

    def _keep(self, cuts: list[Cut]) -> None:
        self._memory.remember(CUTS, json.dumps([asdict(cut) for cut in cuts], default=datetime.isoformat))
        self._cuts = cuts


def _unpacked(packed: dict[str, str | None]) -> Cut:
    since, until, made = (packed[name] for name in ("since", "until", "made_at"))
    return Cut(
        datetime.fromisoformat(since or ""),
        datetime.fromisoformat(until or ""),
        How(packed["how"] or ""),
        datetime.fromisoformat(made) if made else None,
        packed["title"] or "",
        packed["body"] or "",
    )


def _known_again(board: Board, until: datetime) -> bool:
    """Whether every room that has a sensor was heard since then, or it is no use to wait for it."""
    if board.at < until:
        return False
    heard = all(_heard(room.last_good, until) for room in board.rooms if room.sensors)
    return heard or board.at - until >= READINGS_WITHIN


def _heard(last_good: datetime | None, until: datetime) -> bool:
    return last_good is not None and last_good >= until


def _made_before(cut: Cut, now: datetime, by: timedelta) -> bool:
    """Whether its report was made so long ago, by whatever the clock shows."""
    return cut.made_at is not None and abs(now - cut.made_at) >= by


def _in_one(report: Message) -> str:
    said = report.anew()
    return ". ".join([said.title, *said.body.splitlines()]) + "."
