"""What is told after coatbell did not run for a while: how long, the air on both sides, what is sure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.alerts.message import Message, spoken
from service.alerts.messages import Scene, some
from service.alerts.rules import AlertRules
from service.alerts.wax import Risk, risks
from service.room.blind_views import Across, AirThen, MouldAcross, RoomAcross
from service.room.views import Board, MouldNow, Stage
from service.voice import later, say
from service.words import percent, span, temperature

DUE = (Stage.TO_WIRE, Stage.READY, Stage.DRY)
ALL_ONE = timedelta(minutes=10)
"""A width below this is not worth a word (our choice)."""
HOW_WIDE = later(
    "“From … to” is what comes out with the air of before, with that of after, and with the warmest "
    "and driest, coldest and dampest of the day before and since; worse air is not in it. Feel the "
    "shell before you dip"
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


@spoken
def after_a_cut_message(blind: Blind, across: Across, board: Board, rules: AlertRules) -> Message:
    """``Back after 3 h 20 min``, and a line for each thing worth knowing."""
    scene = Scene(board.site, board.at, {})
    waxes = [line for room in across.rooms for line in _wax_lines(room, rules, scene)]
    moulds = [_mould_line(mould, scene) for mould in across.moulds]
    lines = [
        say(
            "coatbell did not run from {since} to {until}: {why}",
            since=scene.clock(blind.since),
            until=scene.clock(blind.until),
            why=say(blind.why),
        ),
        *(_room_line(room, scene) for room in across.rooms),
        *waxes,
        *some(moulds),
        say(HOW_WIDE) if any(_is_wide(mould) for mould in across.moulds) else None,
        _ready_meanwhile(board.moulds, blind),
    ]
    how_long = span(blind.length_s)
    title = (
        say("Back after {how_long}: look at the waxes", how_long=how_long)
        if waxes
        else say("Back after {how_long}", how_long=how_long)
    )
    return Message(title, "\n".join(line for line in lines if line))


def _room_line(room: RoomAcross, scene: Scene) -> str:
    """``Shell room: 12.0 °C and 78 % now, 21.0 °C and 52 % before``"""
    now = say("{air} now", air=_air(room.now, scene)) if room.now else say("no reading yet")
    before = say("{air} before", air=_air(room.before, scene)) if room.before else say("not measured before")
    return ": ".join((room.room.name, ", ".join((now, before))))


def _air(air: AirThen, scene: Scene) -> str:
    return say(
        "{temperature_k} and {humidity}",
        temperature_k=temperature(air.temperature_k, scene.site),
        humidity=percent(air.humidity),
    )


def _wax_lines(room: RoomAcross, rules: AlertRules, scene: Scene) -> list[str]:
    if not room.hanging:
        return []
    reached = zip(risks(rules), (room.coldest_k, room.warmest_k), strict=True)
    return [_wax_line(room, risk, k, scene) for risk, k in reached if k is not None and risk.beyond(k)]


def _wax_line(room: RoomAcross, risk: Risk, reached_k: float, scene: Scene) -> str:
    """It was not measured, so it “may have”."""
    names, limit = ", ".join(some(room.hanging)), temperature(risk.limit_k, scene.site)
    reached, harm = temperature(reached_k, scene.site), say(risk.harm)
    if risk.sign < 0:
        return say(
            "{room} may have come to {reached} meanwhile ({names}): below {limit} {harm}",
            room=room.room.name,
            reached=reached,
            names=names,
            limit=limit,
            harm=harm,
        )
    return say(
        "{room} may have come to {reached} meanwhile ({names}): above {limit} {harm}",
        room=room.room.name,
        reached=reached,
        names=names,
        limit=limit,
        harm=harm,
    )


def _mould_line(mould: MouldAcross, scene: Scene) -> str:
    """``Heron: ready about 14:20, may be anywhere from 13:10 to 16:00``"""
    told = [_when(mould, scene), _how_wide(mould, scene)]
    return f"{mould.name}: {', '.join(part for part in told if part)}"


def _when(mould: MouldAcross, scene: Scene) -> str:
    if mould.due_at is None:
        return (
            say("dry for dewax nobody can reckon when")
            if mould.for_dewax
            else say("ready nobody can reckon when")
        )
    due = scene.clock(mould.due_at)
    if mould.due_at <= scene.now:
        return (
            say("dry for dewax since about {due}", due=due)
            if mould.for_dewax
            else say("ready since about {due}", due=due)
        )
    return say("dry for dewax about {due}", due=due) if mould.for_dewax else say("ready about {due}", due=due)


def _how_wide(mould: MouldAcross, scene: Scene) -> str:
    if mould.least is None:
        return ""
    if mould.most is None:
        return say("no earlier than {least}", least=scene.clock(mould.least))
    if not _is_wide(mould):
        return say("whatever the air was")
    return say(
        "may be anywhere from {least} to {most}", least=scene.clock(mould.least), most=scene.clock(mould.most)
    )


def _is_wide(mould: MouldAcross) -> bool:
    return mould.least is not None and (mould.most is None or mould.most - mould.least >= ALL_ONE)


def _ready_meanwhile(moulds: Sequence[MouldNow], blind: Blind) -> str | None:
    """Each has a bell of its own; here it only stands in the list."""
    names = [m.name for m in moulds if m.stage in DUE and m.due_at and blind.since <= m.due_at <= blind.until]
    return say("Ready meanwhile: {some}", some=", ".join(some(names))) if names else None
