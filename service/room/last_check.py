"""The last check of a slurry tank before a dip: looked for by the ten thousand, so the checks are sorted out once."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from datetime import datetime

from service.records.facts import Fact, TankCheckBody, live
from service.records.plain import spelling
from service.room.audit_views import TankChecked


class LastChecks:
    """All checks of the tanks. facts: as recorded; what was taken back or corrected is left out here."""

    def __init__(self, facts: Sequence[Fact] = ()) -> None:
        self._of: dict[str, list[Fact]] = {}
        for fact in live(list(facts)):
            if isinstance(fact.body, TankCheckBody):
                self._of.setdefault(_spelled(fact.body.tank), []).append(fact)

    def before(self, tank: str, at: datetime) -> TankChecked | None:
        """The newest check of a tank not after `at`, however its name was spelled; None if there is none."""
        own = self._of.get(_spelled(tank), [])
        number = bisect_right(own, at, key=lambda fact: fact.at)
        return _checked(own[number - 1], at) if number else None

    def oldest_age_s(self, dips: Sequence[tuple[str, datetime]]) -> float | None:
        """The oldest check that any of these dips, (tank, when), went on; None if none of the tanks was checked."""
        found = [check.age_s for tank, at in dips if (check := self.before(tank, at)) is not None]
        return max(found, default=None)


def _spelled(tank: str) -> str:
    return spelling(tank.strip())


def _checked(fact: Fact, at: datetime) -> TankChecked | None:
    body = fact.body
    if not isinstance(body, TankCheckBody):
        return None
    return TankChecked(
        number=fact.number,
        at=fact.at,
        age_s=(at - fact.at).total_seconds(),
        flow_s=body.flow_s,
        temperature_k=body.temperature_k,
        density_kg_m3=body.density_kg_m3,
        ph=body.ph,
        made_new=body.made_new,
        text=body.text,
    )
