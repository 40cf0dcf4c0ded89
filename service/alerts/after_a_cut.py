"""What is told after coatbell did not run for a while: how long, the air on both sides, what is sure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.alerts.messages import Message, Scene, some
from service.alerts.rules import AlertRules
from service.alerts.wax import Risk, risks
from service.room.blind_views import Across, AirThen, MouldAcross, RoomAcross
from service.room.views import Board, MouldNow, Stage
from service.words import percent, span, temperature

DUE = (Stage.TO_WIRE, Stage.READY, Stage.DRY)
ALL_ONE = timedelta(minutes=10)
"""A width below this is not worth a word (our choice)."""
HOW_WIDE = (
    "“From … to” is what comes out with the air of before, with that of after, and with the warmest and driest, "
    "coldest and dampest of the day before and since; worse air is not in it. Feel the shell before you dip"
)


@dataclass(frozen=True, slots=True)
class Blind:
    """When coatbell did not run, and why, as a sentence goes on after “coatbell did not run”."""

    since: datetime
    until: datetime
    why: str

    @property
    def length_s(self) -> float:
        return (self.until - self.since).total_seconds()


def after_a_cut_message(blind: Blind, across: Across, board: Board, rules: AlertRules) -> Message:
    """``Back after 3 h 20 min``, and a line for each thing worth knowing."""
    scene = Scene(board.site, board.at, {})
    waxes = [line for room in across.rooms for line in _wax_lines(room, rules, scene)]
    moulds = [_mould_line(mould, scene) for mould in across.moulds]
    lines = [
        f"coatbell did not run from {scene.clock(blind.since)} to {scene.clock(blind.until)}: {blind.why}",
        *(_room_line(room, scene) for room in across.rooms),
        *waxes,
        *some(moulds),
        HOW_WIDE if any(_is_wide(mould) for mould in across.moulds) else None,
        _ready_meanwhile(board.moulds, blind),
    ]
    title = f"Back after {span(blind.length_s)}{': look at the waxes' if waxes else ''}"
    return Message(title, "\n".join(line for line in lines if line))


def _room_line(room: RoomAcross, scene: Scene) -> str:
    """``Shell room: 12.0 °C and 78 % now, 21.0 °C and 52 % before``"""
    now = f"{_air(room.now, scene)} now" if room.now else "no reading yet"
    before = f"{_air(room.before, scene)} before" if room.before else "not measured before"
    return f"{room.room.name}: {now}, {before}"


def _air(air: AirThen, scene: Scene) -> str:
    return f"{temperature(air.temperature_k, scene.site)} and {percent(air.humidity)}"


def _wax_lines(room: RoomAcross, rules: AlertRules, scene: Scene) -> list[str]:
    if not room.hanging:
        return []
    reached = zip(risks(rules), (room.coldest_k, room.warmest_k), strict=True)
    return [_wax_line(room, risk, k, scene) for risk, k in reached if k is not None and risk.beyond(k)]


def _wax_line(room: RoomAcross, risk: Risk, reached_k: float, scene: Scene) -> str:
    """It was not measured, so it “may have”."""
    names, limit = ", ".join(some(room.hanging)), temperature(risk.limit_k, scene.site)
    side = "below" if risk.sign < 0 else "above"
    return (
        f"{room.room.name} may have come to {temperature(reached_k, scene.site)} meanwhile ({names}): "
        f"{side} {limit} {risk.harm}"
    )


def _mould_line(mould: MouldAcross, scene: Scene) -> str:
    """``Heron: ready about 14:20, may be anywhere from 13:10 to 16:00``"""
    what = "dry for dewax" if mould.for_dewax else "ready"
    return f"{mould.name}: {_when(mould, what, scene)}{_how_wide(mould, scene)}"


def _when(mould: MouldAcross, what: str, scene: Scene) -> str:
    if mould.due_at is None:
        return f"{what} nobody can reckon when"
    if mould.due_at <= scene.now:
        return f"{what} since about {scene.clock(mould.due_at)}"
    return f"{what} about {scene.clock(mould.due_at)}"


def _how_wide(mould: MouldAcross, scene: Scene) -> str:
    if mould.least is None:
        return ""
    if mould.most is None:
        return f", no earlier than {scene.clock(mould.least)}"
    if not _is_wide(mould):
        return ", whatever the air was"
    return f", may be anywhere from {scene.clock(mould.least)} to {scene.clock(mould.most)}"


def _is_wide(mould: MouldAcross) -> bool:
    return mould.least is not None and (mould.most is None or mould.most - mould.least >= ALL_ONE)


def _ready_meanwhile(moulds: Sequence[MouldNow], blind: Blind) -> str | None:
    """Each has a bell of its own; here it only stands in the list."""
    names = [m.name for m in moulds if m.stage in DUE and m.due_at and blind.since <= m.due_at <= blind.until]
    return f"Ready meanwhile: {', '.join(some(names))}" if names else None
