"""The rail of hours: everything that is due hangs on one line of time. Laid out here, drawn by `rail_drawing`.

Nothing due is ever out of sight: what is due already is written at the now mark, what lies beyond the end or has no
hour at all is written at the right. Nights are folded, so that the hours in which hands are there have the room.
Each bell has its spread: from when its coat may be ready, past when that is as likely as not, to when it surely is.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from textwrap import wrap

from api.times import nights
from service.records.shop_facts import Site
from service.room.views import MouldNow, Stage
from service.voice import later, say, say_many
from service.words import has_hour, range_of, reckoned_roughly, rough_mark
from service.words.due import likely_at

WIDE, TALL = 1880.0, 1040.0
"""How wide it is on a screen that lies, and on one that stands, in pixels of a 1080p screen."""
BEFORE = timedelta(minutes=30)
AFTER_LAST = timedelta(hours=2)
SHORTEST, LONGEST = timedelta(hours=12), timedelta(hours=24)
NIGHT_SHARE = 1 / 4  # an hour of night takes this much of an hour's room
LEFT, RIGHT = 12.0, 12.0
LEAST_BEYOND_W, MOST_BEYOND_SHARE = 260.0, 0.27
LETTER_W, BOLD_LETTER_W = 14.6, 15.4
GAP_W = 14.0
OPEN_W = 160.0  # how far a bar without a known end fades out
MOST_NAMED = 2
MOST_LETTERS = 24
ROOM_FOR_MORE = "+99"

Clock = Callable[[datetime], str]


@dataclass(frozen=True, slots=True)
class Bell:
    """One thing due. `until`: the longest wait, where one holds.

    early, likely, late: its spread, where it is known; `late` None with `early`: no end is known. rings: its bell has
    an hour, `at`; if not, it hangs where it is as likely ready as not. said: all of it in words. guessed: it rests on
    air that nobody measured.
    """

    name: str
    what: str
    at: datetime
    until: datetime | None
    clock: str
    early: datetime | None = None
    likely: datetime | None = None
    late: datetime | None = None
    rings: bool = True
    said: str = ""
    guessed: bool = False


@dataclass(frozen=True, slots=True)
class Spread:
    """Where a bar begins, where it is darkest and where it ends. open: it goes on, nobody knows how far, or beyond."""

    left: float
    likely: float
    right: float
    open: bool = False


@dataclass(frozen=True, slots=True)
class Hung:
    """A bell with its place: `lane` None where no label found room and one before it says "+1".

    spread: its bar; None: not known.
    """

    bell: Bell
    x: float
    label_x: float
    until_x: float | None
    lane: int | None
    clock: str
    more: int = 0
    spread: Spread | None = None

    @property
    def text(self) -> str:
        """The label after the name."""
        more = f"+{self.more}" if self.more else ""
        return " ".join(part for part in (self.clock, more) if part)


@dataclass(frozen=True, slots=True)
class Axis:
    """Time to pixels, nights folded."""

    start: datetime
    end: datetime
    width: float
    nights: tuple[tuple[datetime, datetime], ...] = ()

    def x(self, at: datetime) -> float:
        return LEFT + self._weight(at) / self._weight(self.end) * self.width

    def _weight(self, at: datetime) -> float:
        """Seconds from the start, those of nights counted for less."""
        at = min(max(at, self.start), self.end)
        dark = sum(max((min(b, at) - a).total_seconds(), 0.0) for a, b in self.nights)
        return (at - self.start).total_seconds() - dark * (1 - NIGHT_SHARE)


@dataclass(frozen=True, slots=True)
class Rail:
    """What is due now, what hangs on the rail, and what lies beyond its end or has no hour."""

    now: datetime
    axis: Axis
    width: float
    lanes: int
    due: tuple[str, ...] = ()
    hung: tuple[Hung, ...] = ()
    beyond: tuple[str, ...] = ()

    @property
    def due_text(self) -> str:
        """``Heron, Godwit and 3 more``: what wants a hand now."""
        if len(self.due) <= MOST_NAMED:
            return ", ".join(self.due)
        return say_many(
            "{name} and {number} more",
            "{name} and {number} more",
            len(self.due) - MOST_NAMED + 1,
            name=", ".join(self.due[: MOST_NAMED - 1]),
        )

    @property
    def beyond_lines(self) -> list[str]:
        """``beyond``, broken to the room at the right; the last line counts what finds none."""
        letters = int((self.width - LEFT - self.axis.width - GAP_W) / BOLD_LETTER_W)
        lines = list[str]()
        for told, text in enumerate(self.beyond):
            left, own = len(self.beyond) - told, wrap(text, max(letters, 1))
            if len(lines) + len(own) + (left > 1) > self.lanes:
                return [*lines, say_many("and {number} more", "and {number} more", left)]
            lines += own
        return lines


@dataclass
class _Lanes:
    """Puts labels in rows so that none covers another."""

    count: int
    right: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.right = [-math.inf] * self.count

    def take(self, x: float, right: float) -> int | None:
        free = next((i for i, taken in enumerate(self.right) if taken + GAP_W <= x), None)
        if free is not None:
            self.right[free] = right
        return free


def lay_out(
    moulds: Sequence[MouldNow],
    now: datetime,
    site: Site | None,
    clock: Clock,
    width: float = WIDE,
    lanes: int = 3,
) -> Rail:
    """Hang everything due on a rail `width` pixels wide; labels take `lanes` rows at most."""
    hanging = [m for m in moulds if m.stage is not Stage.ENDED]
    due = [m for m in hanging if wants_a_hand(m)]
    bells = sorted(
        (_bell(m, now, clock) for m in hanging if m not in due and has_hour(m)), key=lambda b: b.at
    )
    end = _end(bells, now)
    beyond_it = [f"{b.name} {b.clock}" for b in bells if b.at > end]
    unknown = [_no_hour(m) for m in hanging if m not in due and not has_hour(m)]
    beyond = (*unknown, *beyond_it)
    room = width - LEFT - _beyond_width(beyond, width)
    axis = Axis(now - BEFORE, end, room, tuple(nights(now - BEFORE, end, site)))
    rail = Rail(now, axis, width, lanes, tuple(shortened(m.name) for m in due), (), beyond)
    hung = _hang([b for b in bells if b.at <= end], rail)
    return replace(rail, hung=tuple(hung), lanes=_lanes_used(hung, rail))


def wants_a_hand(mould: MouldNow) -> bool:
    """Whether there is something to do now."""
    return mould.stage in (Stage.READY, Stage.TO_DIP, Stage.TO_WIRE, Stage.DRY)


def _end(bells: Sequence[Bell], now: datetime) -> datetime:
    last = max((b.at - now for b in bells), default=SHORTEST)
    return now + min(max(last + AFTER_LAST, SHORTEST), LONGEST)


def _beyond_width(beyond: Sequence[str], width: float) -> float:
    """Room at the right for what has no place on the rail."""
    if not beyond:
        return RIGHT
    wide = max(len(text) for text in beyond) * BOLD_LETTER_W + 2 * GAP_W
    return min(max(wide, LEAST_BEYOND_W), MOST_BEYOND_SHARE * width)


def _no_hour(mould: MouldNow) -> str:
    told = later("{mould}: too damp") if mould.never else later("{mould}: no hour")
    return say(told, mould=shortened(mould.name))


def shortened(name: str) -> str:
    """A long name as far as it finds room."""
    return name if len(name) <= MOST_LETTERS else f"{name[: MOST_LETTERS - 1].rstrip()}…"


def _bell(mould: MouldNow, now: datetime, clock: Clock) -> Bell:
    what = say("coat {coat}", coat=mould.next_coat) if mould.next_coat else say("dry through")
    at, in_doubt = mould.due_at or likely_at(mould), range_of(mould, now)
    assert at is not None
    hour = clock(at) if mould.due_at or not in_doubt else in_doubt.opening(clock)
    return Bell(
        shortened(mould.name),
        what,
        at,
        mould.longest_wait_until,
        f"{rough_mark(mould)}{hour}",
        mould.due_early_at,
        likely_at(mould),
        mould.due_late_at,
        mould.due_at is not None,
        in_doubt.words(clock) if in_doubt else "",
        reckoned_roughly(mould),
    )


def _hang(bells: Sequence[Bell], rail: Rail) -> list[Hung]:
    """As much beside each name as finds room: hour and longest wait, the hour, or the name alone with its bar.

    Where even that is too much, names go before bars.
    """
    hung: list[Hung] = []
    for shown in (Shown(True, True), Shown(True, False), Shown(False, False), Shown(False, False, False)):
        hung = _labelled(bells, rail, shown)
        if all(h.lane is not None for h in hung):
            break
    return hung


@dataclass(frozen=True, slots=True)
class Shown:
    """What is told beside a name. bar: each has its own; if not, those have one whose bar lies under no other name."""

    hour: bool
    window: bool
    bar: bool = True


def _labelled(bells: Sequence[Bell], rail: Rail, shown: Shown) -> list[Hung]:
    lanes, hung = _Lanes(rail.lanes), list[Hung]()
    if rail.due:
        lanes.take(*_due_box(rail))
    for bell in bells:
        hung = _with(hung, _place(bell, rail, lanes, shown))
    return hung if shown.bar else _barred(hung, rail)


def _due_box(rail: Rail) -> tuple[float, float]:
    x = rail.axis.x(rail.now)
    return x, x + len(rail.due_text) * LETTER_W + GAP_W


def _place(bell: Bell, rail: Rail, lanes: _Lanes, shown: Shown) -> Hung:
    x, rest = rail.axis.x(bell.at), bell.clock if shown.hour else ROOM_FOR_MORE
    wide = len(f"{bell.name} {rest}") * LETTER_W + 8
    until_x = rail.axis.x(bell.until) if bell.until and shown.window else None
    spread = _spread(bell, rail.axis)
    label_x = min(x, LEFT + rail.axis.width - wide)
    left, right = (spread.left, spread.right) if spread and shown.bar else (label_x, label_x)
    lane = lanes.take(min(label_x, left), max(label_x + wide, until_x or 0.0, right))
    return Hung(bell, x, label_x, until_x, lane, bell.clock if shown.hour else "", 0, spread)


def _barred(hung: Sequence[Hung], rail: Rail) -> list[Hung]:
    """Only the bars that can be nobody else's: they meet no other bar, and lie under no other name."""
    taken = [(h.lane, h.label_x, h.label_x + len(f"{h.bell.name} {h.text}") * LETTER_W) for h in hung]
    kept = list[Hung]()
    if rail.due:
        taken.append((0, *_due_box(rail)))
    for number, h in enumerate(hung):
        others = [box for i, box in enumerate(taken) if i != number]
        if h.spread and not any(_meet(h.lane, h.spread, box) for box in others):
            taken.append((h.lane, h.spread.left, h.spread.right))
            kept.append(h)
        else:
            kept.append(replace(h, spread=None))
    return kept


def _meet(lane: int | None, bar: Spread, box: tuple[int | None, float, float]) -> bool:
    other, left, right = box
    return lane == other and left < bar.right and bar.left < right


def _spread(bell: Bell, axis: Axis) -> Spread | None:
    if bell.early is None or bell.likely is None:
        return None
    left, likely, right = axis.x(bell.early), axis.x(bell.likely), LEFT + axis.width
    if bell.late is None:
        return Spread(left, likely, min(axis.x(bell.at) + OPEN_W, right), True)
    return Spread(left, likely, axis.x(bell.late), bell.late > axis.end)


def _with(hung: list[Hung], new: Hung) -> list[Hung]:
    """A bell without a label of its own is counted on the last label before it."""
    last = next((i for i in range(len(hung) - 1, -1, -1) if hung[i].lane is not None), None)
    if new.lane is None and last is not None:
        hung[last] = replace(hung[last], more=hung[last].more + 1)
    return [*hung, new]


def _lanes_used(hung: Sequence[Hung], rail: Rail) -> int:
    used = [h.lane + 1 for h in hung if h.lane is not None]
    return max([*used, 1 if rail.due else 0, len(rail.beyond_lines), 1])
