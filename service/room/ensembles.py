"""The members of every wet mould, carried on in memory, and when each of them comes to what is waited for.

Looks ask and never wait: `put` and `renew` take their time on a tick of their own, `expected` answers at once.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from service.drying.members import Advanced, MemberZone, advance_members
from service.drying.shell import Parameters
from service.drying.zone import Limits
from service.learning.smoother import Learnt
from service.learning.when import quantile, slowest
from service.room.estimate import (
    FORECAST_HOLDS_MOST_S,
    FORECAST_S,
    NEAR_S,
    ZoneEstimate,
    dry_enough_s,
    holds_s,
)
from service.room.expected import LEAST_WAIT_S, Array, Expected, expected_of, moved, stretched, usual
from service.room.hung_in import Hung
from service.room.progress import Progress, limits_after

NEAR_HOLDS_S = 120.0
"""Near its bell a mould's members are worked on so often (our choice); a look between moves them with the estimate."""
CLEARLY = 0.1
"""A mould that rang stays ready until the share of members that are is below the wanted one by more (our choice)."""
ROUNDING = 1e-9


@dataclass
class _Known:
    """One mould's members as they were at `made_s`, and when each is there, (members,); nan: not as far as foreseen.

    of: the coats and rooms they are of. No zones: they were kept over a restart as times alone.
    plain_s: the plain estimate then, by the first look since; `followed` until then.
    """

    of: Hashable
    times_s: Array
    made_s: float
    good_for_s: float = 0.0
    zones: tuple[MemberZone, ...] = ()
    ready_s: Array = field(default_factory=lambda: np.zeros((0, 0)))
    dry_s: Array = field(default_factory=lambda: np.zeros((0, 0)))
    plain_s: float | None = None
    followed: bool = False

    def holds(self, now_s: float) -> bool:
        return 0.0 <= now_s - self.made_s < self.good_for_s


@dataclass(frozen=True)
class _Reached:
    """That a mould's bell was due at `at_s`."""

    of: Hashable
    at_s: float


class Ensembles:
    """By mould, in memory alone; `packed` and `restore` keep what a bell needs over a restart."""

    def __init__(self, parameters: Parameters) -> None:
        self._parameters = parameters
        self._known: dict[int, _Known] = {}
        self._reached: dict[int, _Reached] = {}

    @property
    def kept(self) -> set[int]:
        return set(self._known) | set(self._reached)

    # What a look asks

    def expected(
        self, p: Progress, of: Hashable, zones: Sequence[ZoneEstimate], sureness: float, now_s: float
    ) -> Expected | None:
        """When what it waits for is reached; None without a coat, or where nothing is estimated.

        of: its coats and rooms. zones: the plain estimate, along which members are moved until they are worked on.
        """
        if not p.dips or not zones:
            return None
        plain_s, known = dry_enough_s(p, zones), self._of(p, of)
        if known is None:
            found = usual(plain_s, p.dips[-1].at.timestamp(), sureness)
        else:
            found = expected_of(self._followed(known, plain_s), sureness)
        return self._steady(p, of, found, known, sureness, now_s)

    def _followed(self, known: _Known, plain_s: float | None) -> Array:
        """Until they are worked on anew members move along with the plain estimate."""
        if not known.followed:
            known.plain_s, known.followed = plain_s, True
        if plain_s is None or known.plain_s is None or known.plain_s <= known.made_s:
            return known.times_s
        return moved(known.times_s, plain_s - known.plain_s, known.made_s)

    def _steady(
        self,
        p: Progress,
        of: Hashable,
        found: Expected,
        known: _Known | None,
        sureness: float,
        now_s: float,
    ) -> Expected:
        """Once due it stays so, at the same instant, unless what is known by now says clearly otherwise."""
        before = self._reached.get(p.mould_id)
        rang = before is not None and before.of == of and before.at_s <= now_s
        if rang and before is not None and _still(known, sureness, now_s):
            return replace(found, sure_s=before.at_s)
        if found.sure_s is not None and found.sure_s <= now_s:
            self._reached[p.mould_id] = _Reached(of, found.sure_s)
        else:
            self._reached.pop(p.mould_id, None)
        return found

    def forget(self, mould_id: int) -> None:
        """Its air was other than thought: start over. That it rang stands until something is known again."""
        self._known.pop(mould_id, None)

    def end(self, mould_id: int) -> None:
        """It has left."""
        self._known.pop(mould_id, None)
        self._reached.pop(mould_id, None)

    # What a tick of its own does

    def wanting(self, moulds: Iterable[tuple[Progress, Hashable]], now_s: float) -> list[Progress]:
        """Those whose members are there and no longer hold, the oldest first."""
        known = [(self._of(p, of), p) for p, of in moulds]
        old = [(one.made_s, p) for one, p in known if one and one.zones and not one.holds(now_s)]
        return [p for _, p in sorted(old, key=lambda each: each[0])]

    def knows(self, p: Progress, of: Hashable) -> bool:
        """Whether times are known of these coats."""
        return self._of(p, of) is not None

    def has_members(self, p: Progress, of: Hashable, now_s: float) -> bool:
        """Whether it has members that can be carried on to now."""
        known = self._of(p, of)
        return known is not None and bool(known.zones) and known.made_s <= now_s

    def put(
        self, hung: Sequence[Hung], of: Sequence[Hashable], learnt: Sequence[Learnt], now_s: float
    ) -> None:
        """New members of moulds in one air, as smoothed up to now."""
        now = [(each.now, each.ready_s, each.dry_s) for each in learnt]
        self._look_ahead(hung, of, now, now_s)

    def renew(self, hung: Sequence[Hung], of: Sequence[Hashable], now_s: float) -> None:
        """Carry the members of moulds in one air on to now, and look ahead anew."""
        before = [self._known[one.p.mould_id] for one in hung]
        zones = [zone for known in before for zone in known.zones]
        limits = [_limits(one) for one in hung for _ in one.p.body.zones]
        came = iter(
            advance_members(zones, [now_s] * len(zones), hung[0].air.series, self._parameters, limits)
        )
        now = []
        for known in before:
            own = [next(came) for _ in known.zones]
            ready = np.stack([each.ready_s for each in own])
            dry = np.stack([each.dry_s for each in own])
            now.append(
                (
                    tuple(each.zone for each in own),
                    _since(known.ready_s, ready, known.made_s),
                    _since(known.dry_s, dry, known.made_s),
                )
            )
        self._look_ahead(hung, of, now, now_s)

    def _look_ahead(
        self,
        hung: Sequence[Hung],
        of: Sequence[Hashable],
        now: Sequence[tuple[tuple[MemberZone, ...], Array, Array]],
        now_s: float,
    ) -> None:
        zones = [zone for own, _, _ in now for zone in own]
        limits = [_limits(one) for one in hung for _ in one.p.body.zones]
        ends = [now_s + FORECAST_S] * len(zones)
        ahead = iter(advance_members(zones, ends, hung[0].to_come, self._parameters, limits, True))
        for one, its, (own, ready_s, dry_s) in zip(hung, of, now, strict=True):
            there = _there(one.p, ready_s, dry_s, [next(ahead) for _ in own])
            start_s = one.p.dips[-1].at.timestamp()
            times_s = stretched(there, start_s, _assumed(one, there, start_s, now_s))
            good_for_s = _good_for_s(times_s, now_s)
            self._known[one.p.mould_id] = _Known(its, times_s, now_s, good_for_s, own, ready_s, dry_s)

    def _of(self, p: Progress, of: Hashable) -> _Known | None:
        known = self._known.get(p.mould_id)
        return known if known is not None and known.of == of else None

    # Over a restart

    def packed(self, mould_id: int) -> dict[str, Any]:
        """What a bell needs, as plain data."""
        known, reached = self._known.get(mould_id), self._reached.get(mould_id)
        found: dict[str, Any] = {}
        if known is not None:
            times = [None if np.isnan(at_s) else float(at_s) for at_s in np.sort(known.times_s)]
            found["known"] = {"of": known.of, "times_s": times, "made_s": known.made_s}
        if reached is not None:
            found["reached"] = {"of": reached.of, "at_s": reached.at_s}
        return found

    def restore(self, mould_id: int, packed: Mapping[str, Any]) -> None:
        """Times without members: good until there are some again."""
        if kept := packed.get("known"):
            times_s = np.array([np.nan if at_s is None else at_s for at_s in kept["times_s"]])
            self._known[mould_id] = _Known(kept["of"], times_s, kept["made_s"])
        if rang := packed.get("reached"):
            self._reached[mould_id] = _Reached(rang["of"], rang["at_s"])


def _still(known: _Known | None, sureness: float, now_s: float) -> bool:
    """Whether nothing says clearly that it is not ready."""
    if known is None:
        return True
    short_of = sureness - float(np.mean(known.times_s <= now_s))
    return short_of <= CLEARLY + ROUNDING


def _there(p: Progress, ready_s: Array, dry_s: Array, ahead: Sequence[Advanced]) -> Array:
    """When each member's slowest zone is at its limit, reached or foreseen, (members,)."""
    reached = dry_s if p.for_dewax else ready_s
    foreseen = np.stack([each.dry_s if p.for_dewax else each.ready_s for each in ahead])
    return slowest(np.where(np.isnan(reached), foreseen, reached))


def _assumed(one: Hung, times_s: Array, start_s: float, now_s: float) -> float:
    """The part of the wait so far whose air was not measured."""
    middle = quantile(times_s, 0.5)
    wait_s = max((now_s if middle is None else middle) - start_s, LEAST_WAIT_S)
    return min(one.air.gap_s(start_s, now_s) / wait_s, 1.0)


def _good_for_s(times_s: Array, now_s: float) -> float:
    """The first of the members still to come says how long: half of them lie beyond what was foreseen for sure."""
    to_come = times_s[times_s > now_s]
    if not to_come.size:
        return FORECAST_HOLDS_MOST_S
    nearest_s = float(np.median(to_come)) - now_s
    return NEAR_HOLDS_S if nearest_s < NEAR_S else holds_s(nearest_s)


def _limits(one: Hung) -> Limits:
    return limits_after(one.p.recipe, one.p.coats_given)


def _since(before: Array, found: Array, start_s: float) -> Array:
    """Kept all the way from `start_s`, a limit has been kept since before."""
    return np.where(np.isfinite(before) & (found == start_s), before, found)
