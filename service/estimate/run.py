"""Work a case out: dip, dry, dip again; all zones of the mould are dipped together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.drying.solver import advance
from service.drying.zone import Limits, ZoneState, dip, hang
from service.errors import BadInput
from service.estimate.case import Case, CoatPlan
from service.estimate.look_ahead import Wait, until_dry, until_ready
from service.voice import say

NEVER_S = float("inf")
JUST_S = 1.0
"""Less than this between two instants counts as none."""


@dataclass(frozen=True, slots=True)
class CoatEstimate:
    """One coat on one zone. Instants are seconds from the start of the air.

    next_dip_s: None if no other coat follows. ready: for the next dip, if left alone. coldest_k: of the face, until the
    next dip. water_at_dip_kg_m2: in the whole shell just after the dip. dry: whole shell, after the last coat only.
    """

    number: int
    plan: CoatPlan
    dip_s: float
    ready: Wait
    coldest_k: float
    water_at_dip_kg_m2: float
    dry: Wait | None = None
    next_dip_s: float | None = None
    saturation_at_next_dip: float | None = None

    @property
    def waited_s(self) -> float | None:
        """From this dip to the next."""
        return None if self.next_dip_s is None else self.next_dip_s - self.dip_s

    @property
    def damp_at_next_dip(self) -> bool:
        """Whether the next coat went on before this one was ready."""
        return self.waited_s is not None and self.waited_s < _length(self.ready) - JUST_S

    @property
    def too_soon(self) -> bool:
        """Whether the next coat went on before this one was ready, or before its least wait."""
        hurried = self.waited_s is not None and self.waited_s < self.plan.least_wait_s - JUST_S
        return self.damp_at_next_dip or hurried

    @property
    def too_late(self) -> bool:
        """Whether the next coat went on after this one's longest wait."""
        if self.waited_s is None or self.plan.longest_wait_s is None:
            return False
        return self.waited_s > self.plan.longest_wait_s + JUST_S


@dataclass(frozen=True, slots=True)
class ZoneEstimate:
    """A zone's coats, as far as they could be given."""

    name: str
    coats: tuple[CoatEstimate, ...]


@dataclass(frozen=True, slots=True)
class Estimate:
    """What came out. A mould is as ready as its slowest zone."""

    case: Case
    zones: tuple[ZoneEstimate, ...]

    @property
    def coats_given(self) -> int:
        """How many coats could be given: fewer than planned when one never gets ready."""
        return len(self.zones[0].coats)

    @property
    def complete(self) -> bool:
        return self.coats_given == len(self.case.coats)

    def slowest(self, coat: int) -> ZoneEstimate:
        """The zone waited for after coat `coat` (from 1): the last to be ready."""
        return max(self.zones, key=lambda zone: _rank(zone.coats[coat - 1].ready))

    @property
    def slowest_to_dry(self) -> ZoneEstimate | None:
        """The zone dewax waits for; None if not all coats could be given."""
        return max(self.zones, key=lambda zone: _rank(zone.coats[-1].dry)) if self.complete else None


def estimate(case: Case) -> Estimate:
    """Dry the case's mould, coat after coat. Raises BadInput when its numbers are too far from any shell's."""
    try:
        return _Run(case).to_the_end()
    except FloatingPointError as error:
        raise not_worked_out(case) from error


def not_worked_out(case: Case) -> BadInput:
    return BadInput(
        "not_worked_out",
        say("{case}: with these numbers the drying cannot be worked out.", case=case.title),
        say("Bring [parameters] nearer to those of the shipped drying.toml."),
        "parameters",
    )


def _length(wait: Wait | None) -> float:
    return NEVER_S if wait is None or wait.takes_s is None else wait.takes_s


def _rank(wait: Wait | None) -> tuple[float, float]:
    """Longest last; of those that never end, the one that would take longest in drier air."""
    damp = wait.too_damp if wait else None
    return _length(wait), NEVER_S if damp is None or damp.would_do_s is None else damp.would_do_s


class _Run:
    """A mould on its way: its zones' states, and what was found so far."""

    def __init__(self, case: Case) -> None:
        self.case = case
        start_s = case.dips_s[0] if case.dips_s else case.first_s
        air_k = float(case.air.at(np.array([start_s])).temperature_k[0])
        self.states = [hang(shape, air_k, start_s) for _, shape in case.zones]
        self.found: list[list[CoatEstimate]] = [[] for _ in case.zones]

    def to_the_end(self) -> Estimate:
        for number, plan in enumerate(self.case.coats, 1):
            self._give(number, plan)
            next_s = self._next_dip_s(number, plan)
            if next_s is None:
                break
            self._dry_until(next_s)
        found = zip(self.case.zones, self.found, strict=True)
        return Estimate(self.case, tuple(ZoneEstimate(name, tuple(coats)) for (name, _), coats in found))

    def _give(self, number: int, plan: CoatPlan) -> None:
        """Dip all zones, and look how long each would need if left alone."""
        air, parameters = self.case.air, self.case.parameters
        self.states = [dip(state, plan.coat, plan.immersion_s, parameters) for state in self.states]
        ready = until_ready(self.states, air, parameters, plan.ready_saturation)
        dry: Sequence[Wait | None] = [None] * len(self.states)
        if number == len(self.case.coats):
            dry = until_dry(self.states, air, parameters, self.case.water_limit)
        for coats, state, is_ready, is_dry in zip(self.found, self.states, ready, dry, strict=True):
            coats.append(_coat(number, plan, state, is_ready, is_dry))

    def _next_dip_s(self, number: int, plan: CoatPlan) -> float | None:
        """When the next coat goes on; None if there is none, or this one never gets ready."""
        if number == len(self.case.coats):
            return None
        given = self.case.dips_s or ()
        if number < len(given):
            return given[number]
        slowest_s = max(_length(coats[-1].ready) for coats in self.found)
        if slowest_s == NEVER_S:
            return None
        return self.states[0].time_s + max(slowest_s, plan.least_wait_s)

    def _dry_until(self, next_s: float) -> None:
        zones = len(self.states)
        dried = advance(
            self.states, [next_s] * zones, self.case.air, self.case.parameters, [Limits()] * zones
        )
        self.states = [d.state for d in dried]
        for coats, d in zip(self.found, dried, strict=True):
            coats[-1] = replace(
                coats[-1],
                coldest_k=d.coldest_k,
                next_dip_s=next_s,
                saturation_at_next_dip=d.state.newest_saturation,
            )


def _coat(number: int, plan: CoatPlan, laid: ZoneState, ready: Wait, dry: Wait | None) -> CoatEstimate:
    coldest_k = min(ready.coldest_k, dry.coldest_k) if dry else ready.coldest_k
    return CoatEstimate(number, plan, laid.time_s, ready, coldest_k, laid.water_kg_m2, dry)
