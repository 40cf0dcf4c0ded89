"""The slurry tanks and what they were found to be. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from service.errors import BadInput
from service.records.facts import AnyBody, Fact, TankCheckBody, live
from service.records.plain import spelling
from service.room.rules import settled
from service.room.views import TankNow
from service.terms import term
from service.voice import say


def checks_of(checks: Sequence[Fact], tank: str) -> list[Fact]:
    """The checks of a tank that hold, by the time they were made."""
    name = _spelled(tank)
    return [fact for fact in live(list(checks)) if _spelled(_tank(fact)) == name]


def tanks_now(names: Iterable[str], checks: Sequence[Fact]) -> list[TankNow]:
    """Every tank that is named or was checked, each once, with its checks, the newest first."""
    held = live(list(checks))
    every = [*names, *(_tank(fact) for fact in held)]
    known = {_spelled(name): name.strip() for name in reversed(every) if _spelled(name)}
    once = dict.fromkeys(_spelled(name) for name in every if _spelled(name))
    return [TankNow(known[name], tuple(reversed(checks_of(held, name)))) for name in once]


def known_as(tank: str, names: Iterable[str]) -> str:
    """A tank's name as it is spelled already; a new one as it is."""
    return next((name for name in names if _spelled(name) == _spelled(tank)), tank.strip())


def check_tank_correction(fact: Fact, body: AnyBody, at: datetime, now: datetime) -> datetime:
    """A corrected check is still a check, and not of a time to come. The time to record."""
    if not isinstance(body, TankCheckBody) or not isinstance(fact.body, TankCheckBody):
        raise BadInput(
            "other_kind",
            say("A {kind} cannot become a {wanted}.", kind=term(fact.body.kind), wanted=term(body.kind)),
            say("Undo it, and record the other one."),
        )
    return settled(at, now, "tank_check")


def _tank(fact: Fact) -> str:
    return fact.body.tank if isinstance(fact.body, TankCheckBody) else ""


def _spelled(tank: str) -> str:
    return spelling(tank.strip())
