"""A mould's night in words: whether it can wait, must be dipped before, or wants a hand in between. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.alerts.messages import Message, Scene, together
from service.local_time import clock_time
from service.room.views import MouldNow, Stage
from service.words import MOST_NAMES, next_dip, wires_line

TONIGHT = timedelta(hours=20)
"""Within this no time of day comes twice, not even where clocks change: it needs no day beside it."""


@dataclass(frozen=True, slots=True)
class Night:
    """From when, and until when, somebody cannot be rung; `ends` None: not within weeks."""

    begins: datetime
    ends: datetime | None

    def holds(self, at: datetime) -> bool:
        """Whether it lies in this night. Its first instant does, and so does the one at which they are back."""
        return self.begins <= at and (self.ends is None or at <= self.ends)


@dataclass(frozen=True, slots=True)
class Overnight:
    """One mould in somebody's night. ready: None if it is so already, or nobody knows. ends: its longest wait does.

    cannot_wait: that is in the night. too_late: by the estimate it is not ready before. rings_at: when a bell may ring
    in the night all the same.
    """

    mould: MouldNow
    ready: datetime | None
    ends: datetime | None
    cannot_wait: bool
    too_late: bool
    rings_at: datetime | None = None

    @classmethod
    def of(cls, mould: MouldNow, night: Night) -> Overnight | None:
        """What there is to say of this mould; None if its bell, or the next day, is soon enough."""
        ends, waits = mould.longest_wait_until, mould.stage is Stage.DRYING
        ready = mould.due_at if waits else None
        cannot_wait = ends is not None and night.holds(ends)
        comes_ready = ready is not None and night.holds(ready) and ready != night.ends
        if not cannot_wait and (not comes_ready or (ends is not None and ends < night.begins)):
            return None
        too_late = cannot_wait and waits and (ready is None or (ends is not None and ready >= ends))
        return cls(mould, ready, ends, cannot_wait, too_late)

    def by_then(self, night: Night) -> bool:
        """Whether it can be dipped before the night."""
        return not self.too_late and (self.ready is None or self.ready < night.begins)


def before_night_message(due: Sequence[Overnight], night: Night, scene: Scene) -> Message:
    """``Heron: coat 5 comes ready at 23:40; it can wait until 07:00``; what cannot wait comes first."""
    if not due:
        return Message("Nothing comes due in the night", "")
    ordered = sorted(due, key=lambda one: _weight(one, night))
    titles = [f"{one.mould.name}: {_what(one, night, scene)}" for one in ordered]
    lines = [f"{title}\n{_about(one, night, scene)}" for title, one in zip(titles, ordered, strict=True)][
        :MOST_NAMES
    ]
    more = [f"and {len(due) - MOST_NAMES} more"] if len(due) > MOST_NAMES else []
    title = titles[0] if len(due) == 1 else together(titles).title
    body = [_about(ordered[0], night, scene)] if len(due) == 1 else [*lines, *more]
    return Message(title, "\n".join([*body, _silence(night, scene)]))


def _weight(one: Overnight, night: Night) -> tuple[bool, bool, datetime, str]:
    soonest = one.ends if one.cannot_wait else one.ready
    return (not one.cannot_wait, not one.by_then(night), soonest or night.begins, one.mould.name)


def _what(one: Overnight, night: Night, scene: Scene) -> str:
    coat, begins = f"coat {one.mould.next_coat}", _clock(night.begins, scene)
    if not one.cannot_wait or one.ends is None:
        return f"{coat} comes ready {_at(one.ready, scene)}; it can wait until {_back(night, scene)}"
    ends = _clock(one.ends, scene)
    if one.too_late:
        return f"{coat} stands too long from {ends}{_too_late(one, scene)}: feel it before {begins}"
    if one.by_then(night):
        ready = f"ready {_at(one.ready, scene)}, " if one.ready else ""
        return f"{ready}dip {coat} before {begins}, or it stands too long (its longest wait ends {ends})"
    return f"{coat} ready {_at(one.ready, scene)}, stands too long from {ends}: it wants a hand in the night"


def _too_late(one: Overnight, scene: Scene) -> str:
    if not one.mould.zones:
        return ""
    when = f"before {_clock(one.ready, scene)}" if one.ready else "by then"
    return f", not ready {when} by the estimate"


def _about(one: Overnight, night: Night, scene: Scene) -> str:
    """The coat with its kind and tank, wires first, and which bell rings in the night."""
    dip, wires = next_dip(one.mould), wires_line(one.mould)
    lines = [f"{dip[:1].upper()}{dip[1:]}", wires]
    if one.ends and not one.cannot_wait:
        lines.append(f"Its longest wait ends {_clock(one.ends, scene)}")
    if one.cannot_wait:
        lines.append(_rings(one, night, scene))
    return "\n".join(line for line in lines if line)


def _rings(one: Overnight, night: Night, scene: Scene) -> str | None:
    if one.rings_at is None:
        return f"No bell rings for it before {_back(night, scene)}"
    if one.rings_at <= scene.now:
        return None
    loud = ", night or not" if night.holds(one.rings_at) else ""
    return f"It rings {_at(one.rings_at, scene)}{loud}"


def _silence(night: Night, scene: Scene) -> str:
    return f"From {_clock(night.begins, scene)} until {_back(night, scene)} only what is urgent rings you"


def _back(night: Night, scene: Scene) -> str:
    return _clock(night.ends, scene) if night.ends else "you are back"


def _at(at: datetime | None, scene: Scene) -> str:
    return f"at {_clock(at, scene)}" if at else "in the night"


def _clock(at: datetime, scene: Scene) -> str:
    """A time of day; with its day beside it where that is not tonight."""
    return clock_time(at, scene.site, at if at - scene.now < TONIGHT else scene.now)
