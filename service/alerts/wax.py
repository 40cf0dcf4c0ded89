"""Air in which the wax under a shell is harmed: too cold, or too warm. The limits are common practice, no source."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial

from service.alerts import room_air
from service.alerts.message import Message, spoken
from service.alerts.messages import Scene, some
from service.alerts.rules import AlertRules
from service.room.views import AirPoint, Freshness, MouldNow, RoomNow, Stage
from service.voice import later, say
from service.words import temperature

CLEARS_BY_K = 1.0
"""So far on the right side of the limit again before it counts as over (our choice)."""
COLD = later(
    "wet slurry freezes and its gel is spoiled; wax gets brittle and shrinks: look for cracks and "
    "lifted prime before you dip"
)
WARM = later("wax softens and creeps, and sags on its hook: look at long thin parts before you dip")


@dataclass(frozen=True, slots=True)
class Risk:
    """One side of it. `sign`: 1 where warmer is worse, -1 where colder is."""

    name: str
    limit_k: float
    sign: float
    harm: str

    def beyond(self, temperature_k: float, by_k: float = 0.0) -> bool:
        """Whether this is beyond the limit, by more than `by_k`."""
        return self.sign * (temperature_k - self.limit_k) > by_k


def risks(rules: AlertRules) -> tuple[Risk, Risk]:
    """Cold and warm."""
    cuts = rules.power_cut
    return (
        Risk("cold", cuts.wax_brittle_below_k, -1.0, COLD),
        Risk("warm", cuts.wax_soft_above_k, 1.0, WARM),
    )


@dataclass(frozen=True, slots=True)
class AtRisk:
    """What is so in one room. Not `firing`: not for long enough, nearly over, or not measured."""

    risk: Risk
    since: datetime | None
    firing: bool
    message: Message


def waxes_at_risk(
    room: RoomNow, moulds: Sequence[MouldNow], rules: AlertRules, scene: Scene
) -> Iterator[AtRisk]:
    """Moulds hang there, dipped or not, and its measured air has been too cold or too warm for a while.

    Air that is not measured starts no alarm, and ends none.
    """
    here = [m for m in moulds if m.room.id == room.room.id and m.stage is not Stage.ENDED]
    if not here or room.temperature_k is None:
        return
    measured = room.freshness not in (Freshness.STALE, Freshness.NEVER)
    for risk in risks(rules):
        if not measured or risk.beyond(room.temperature_k, -CLEARS_BY_K):
            since = room_air.true_since(room.last_day, partial(_beyond, risk))
            lasted = room_air.lasted(since, scene.now, rules.room.out_for_s)
            firing = measured and lasted and risk.beyond(room.temperature_k)
            yield AtRisk(risk, since, firing, _message(risk, room, here, scene))


def _beyond(risk: Risk, point: AirPoint) -> bool:
    return risk.beyond(point.temperature_k)


@spoken
def _message(risk: Risk, room: RoomNow, here: Sequence[MouldNow], scene: Scene) -> Message:
    now, limit = (temperature(k, scene.site) for k in (room.temperature_k or 0.0, risk.limit_k))
    harm = say(risk.harm)
    lines = [
        say("Below {limit} {harm}", limit=limit, harm=harm)
        if risk.sign < 0
        else say("Above {limit} {harm}", limit=limit, harm=harm),
        say("Hanging there: {some}", some=", ".join(some([mould.name for mould in here]))),
        scene.air(room.room.id),
    ]
    return Message(
        say("{room}: {now}, waxes at risk", room=room.room.name, now=now),
        "\n".join(line for line in lines if line),
    )
