"""A mould's night in words: whether it can wait, must be dipped before, or wants a hand in between. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.alerts.message import Message, spoken
from service.alerts.messages import Scene, together
from service.listed import capital
from service.local_time import clock_time
from service.room.views import MouldNow, Stage
from service.voice import say
from service.words import MOST_NAMES, next_dip, range_of, wires_line

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
    """One mould in somebody's night.

    ready: when its bell may ring; None if it is so already, or nobody knows. ends: its longest wait does.

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


@spoken
def before_night_message(due: Sequence[Overnight], night: Night, scene: Scene) -> Message:
    """``Heron: coat 5 comes ready at 23:40; it can wait until 07:00``; what cannot wait comes first."""
    if not due:
        return Message(say("Nothing comes due in the night"), "")
    ordered = sorted(due, key=lambda one: _weight(one, night))
    titles = [f"{one.mould.name}: {_what(one, night, scene)}" for one in ordered]
    lines = [f"{title}\n{_about(one, night, scene)}" for title, one in zip(titles, ordered, strict=True)][
        :MOST_NAMES
    ]
    more = [say("and {rest} more", rest=len(due) - MOST_NAMES)] if len(due) > MOST_NAMES else []
    title = titles[0] if len(due) == 1 else together(titles).title
    body = [_about(ordered[0], night, scene)] if len(due) == 1 else [*lines, *more]
    return Message(title, "\n".join([*body, _silence(night, scene)]))


def _weight(one: Overnight, night: Night) -> tuple[bool, bool, datetime, str]:
    soonest = one.ends if one.cannot_wait else one.ready
    return (not one.cannot_wait, not one.by_then(night), soonest or night.begins, one.mould.name)


def _what(one: Overnight, night: Night, scene: Scene) -> str:
    coat, begins, at = one.mould.next_coat, _clock(night.begins, scene), _ready(one, scene)
    if not one.cannot_wait or one.ends is None:
        return say(
            "coat {coat} comes ready {at}; it can wait until {night}",
            coat=coat,
            at=at,
            night=_back(night, scene),
        )
    ends = _clock(one.ends, scene)
    if one.too_late:
        return _too_late(one, ends, begins, scene)
    if one.by_then(night) and one.ready:
        return say(
            "ready {at}, dip coat {coat} before {begins}, or it stands too long (its longest wait ends "
            "{ends})",
            at=at,
            coat=coat,
            begins=begins,
            ends=ends,
        )
    if one.by_then(night):
        return say(
            "dip coat {coat} before {begins}, or it stands too long (its longest wait ends {ends})",
            coat=coat,
            begins=begins,
            ends=ends,
        )
    return say(
        "coat {coat} ready {at}, stands too long from {ends}: it wants a hand in the night",
        coat=coat,
        at=at,
        ends=ends,
    )


def _too_late(one: Overnight, ends: str, begins: str, scene: Scene) -> str:
    coat = one.mould.next_coat
    if not one.mould.zones:
        return say(
            "coat {coat} stands too long from {ends}: feel it before {begins}",
            coat=coat,
            ends=ends,
            begins=begins,
        )
    if range_of(one.mould, scene.now):
        return say(
            "coat {coat} stands too long from {ends}, ready {at} by the estimate: feel it before {begins}",
            coat=coat,
            ends=ends,
            at=_ready(one, scene),
            begins=begins,
        )
    if one.ready:
        ready = _clock(one.ready, scene)
        return say(
            "coat {coat} stands too long from {ends}, not ready before {ready} by the estimate: feel it "
            "before {begins}",
            coat=coat,
            ends=ends,
            ready=ready,
            begins=begins,
        )
    return say(
        "coat {coat} stands too long from {ends}, not ready by then by the estimate: feel it before {begins}",
        coat=coat,
        ends=ends,
        begins=begins,
    )


def _about(one: Overnight, night: Night, scene: Scene) -> str:
    """The coat with its kind and tank, wires first, and which bell rings in the night."""
    dip, wires = next_dip(one.mould), wires_line(one.mould)
    lines = [capital(dip), wires]
    if one.ends and not one.cannot_wait:
        lines.append(say("Its longest wait ends {ends}", ends=_clock(one.ends, scene)))
    if one.cannot_wait:
        lines.append(_rings(one, night, scene))
    return "\n".join(line for line in lines if line)


def _rings(one: Overnight, night: Night, scene: Scene) -> str | None:
    if one.rings_at is None:
        return say("No bell rings for it before {night}", night=_back(night, scene))
    if one.rings_at <= scene.now:
        return None
    at = _at(one.rings_at, scene)
    return (
        say("It rings {at}, night or not", at=at)
        if night.holds(one.rings_at)
        else say("It rings {at}", at=at)
    )


def _silence(night: Night, scene: Scene) -> str:
    begins, ends = _clock(night.begins, scene), _back(night, scene)
    return say("From {begins} until {ends} only what is urgent rings you", begins=begins, ends=ends)


def _back(night: Night, scene: Scene) -> str:
    return _clock(night.ends, scene) if night.ends else say("you are back")


def _ready(one: Overnight, scene: Scene) -> str:
    """``at 23:40``, ``about 23:10, surely by 00:20``"""
    in_doubt = range_of(one.mould, scene.now)
    return in_doubt.words(lambda at: _clock(at, scene)) if in_doubt else _at(one.ready, scene)


def _at(at: datetime | None, scene: Scene) -> str:
    return say("at {time}", time=_clock(at, scene)) if at else say("in the night")


def _clock(at: datetime, scene: Scene) -> str:
    """A time of day; with its day beside it where that is not tonight."""
    return clock_time(at, scene.site, at if at - scene.now < TONIGHT else scene.now)
