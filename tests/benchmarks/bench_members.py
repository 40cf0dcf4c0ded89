"""How long a shop's doubt takes: every zone of its moulds with all its members, dried to now and forecast 48 h.

In one run and for the same members: coatbell, SciPy's BDF on the model written a second time, and plain NumPy
(`solver.advance`, many zones at once), with how far each is from a tight solution, so that times are held against each
other at equal error. Then a minute's tick, and how time grows with moulds, members and cells a coat. Times
depend on the machine: they are printed, never asserted.
"""

from __future__ import annotations

import argparse
import resource
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from unittest import mock

import numpy as np
from numpy.typing import NDArray

from service.drying.members import (
    Advanced,
    Laid,
    MemberAir,
    MemberZone,
    advance_members,
    dip_members,
    hang_members,
)
from service.drying.shell import CELLS_PER_COAT, Coat, Parameters, Pocket, ZoneShape
from service.drying.solver import advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits
from tests.physics.second_model import second_opinion

Array = NDArray[np.float64]

HOUR_S = 3600.0
NOW_S = 24 * HOUR_S
END_S = NOW_S + 48 * HOUR_S
PLACES, MEMBERS = 3, 64
COATS = (Coat(0.6e-3),) * 2 + (Coat(1.1e-3),) * 6
SPREADS = {"transfer": 0.35, "stirring": 0.3, "sorptivity": 0.3, "diffusivity": 0.5, "thickness": 0.15}
PARAMETERS, LIMITS = Parameters(), Limits()
TIGHT = (1e-6, 1e-8)
LOOSER = ((3e-3, 1e-4), (1e-3, 3e-5), (3e-4, 1e-5), (1e-4, 3e-6), (3e-5, 1e-6))
"""Tolerances of SciPy's BDF, relative and absolute, from the loosest."""
WITH_CELLS = ("shell", "zone", "solver", "march", "rosenbrock", "member_zone", "member_batch")


def air(members: int, seed: int = 1) -> MemberAir:
    """A day of noisy five-minute readings up to now, then a smooth forecast which each member doubts in two ways."""
    draw = np.random.default_rng(seed)
    past = np.arange(0.0, NOW_S + 1.0, 300.0)
    time_s = np.concatenate([past, np.arange(NOW_S + HOUR_S, END_S + 1.0, HOUR_S)])
    day, read = np.sin(2 * np.pi * time_s / (24 * HOUR_S)), time_s <= NOW_S
    base = AirSeries(
        time_s,
        292.0 + 3.0 * day + read * draw.normal(0.0, 0.2, time_s.size),
        0.5 - 0.12 * day + read * draw.normal(0.0, 0.02, time_s.size),
        np.full(time_s.size, 0.25),
        np.full(time_s.size, 101325.0),
    )
    ahead = time_s[time_s >= NOW_S]
    ways = np.stack([1.0 - np.exp(-(ahead - NOW_S) / (6 * HOUR_S)), np.sin((ahead - NOW_S) / (5 * HOUR_S))])
    return MemberAir(base, ahead, 1.5 * ways, -0.05 * ways, draw.normal(size=(members, 2)))


def hung(moulds: int, members: int, seed: int = 2) -> list[MemberZone]:
    """Each mould with a face, a bar and a pocket, dipped for the eighth time at some time in the day before now."""
    draw = np.random.default_rng(seed)
    shapes = (ZoneShape(0.4, 0.3), ZoneShape(0.2, 0.05), ZoneShape(0.4, 0.3, Pocket(0.08, 0.04)))
    return [dipped(shapes[n % PLACES], members, draw) for n in range(moulds * PLACES)]


def dipped(shape: ZoneShape, members: int, draw: np.random.Generator) -> MemberZone:
    zone = hang_members(shape, 292.0, draw.uniform(0.0, NOW_S - HOUR_S), members)
    quick = np.exp(draw.normal(0.0, SPREADS["diffusivity"], members))
    for coat in COATS:
        zone = replace(zone, saturation=np.full_like(zone.saturation, draw.uniform(0.1, 0.3)))
        laid = Laid(*(np.exp(draw.normal(0.0, spread, members)) for spread in SPREADS.values()))
        zone = dip_members(zone, coat, 15.0, replace(laid, diffusivity=quick), PARAMETERS)
    return zone


@dataclass(frozen=True)
class Cost:
    """Seconds on the clock and of all cores together, and the most memory the process ever had."""

    wall_s: float
    cpu_s: float
    peak_mb: float


@contextmanager
def measured(costs: list[Cost]) -> Iterator[None]:
    wall_s, cpu_s = time.perf_counter(), time.process_time()
    yield
    wall_s, cpu_s = time.perf_counter() - wall_s, time.process_time() - cpu_s
    costs.append(Cost(wall_s, cpu_s, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0))


def dry(zones: Sequence[MemberZone], doubt: MemberAir) -> tuple[list[Advanced], list[Advanced]]:
    """To now, and from there 48 h on."""
    limits = [LIMITS] * len(zones)
    now = advance_members(zones, [NOW_S] * len(zones), doubt.base, PARAMETERS, limits)
    later = [one.zone for one in now]
    return now, advance_members(later, [END_S] * len(zones), doubt, PARAMETERS, limits)


def ready_s(now: Sequence[Advanced], later: Sequence[Advanced]) -> Array:
    """(zones, members), since when each is ready; nan if it is not."""
    pairs = zip(now, later, strict=True)
    return np.array([np.where(np.isnan(a.ready_s), b.ready_s, a.ready_s) for a, b in pairs])


@dataclass(frozen=True)
class Rival:
    """Seconds of one core for all columns, and the errors of the waits until ready, as shares of the wait."""

    name: str
    cpu_s: float
    errors: Array

    def __str__(self) -> str:
        worst = max(self.errors, default=0.0)
        mean = float(np.mean(self.errors)) if self.errors.size else 0.0
        return f"{self.name}: {self.cpu_s:.1f} s of a core, error {100 * mean:.2f} % (at most {100 * worst:.2f} %)"


@dataclass(frozen=True)
class Comparison:
    columns: int
    cost: Cost
    compared: int
    coatbell: Rival
    rivals: tuple[Rival, ...]


def compare(moulds: int, members: int, second: int, plain: int) -> Comparison:
    """second: how many columns SciPy computes too; plain: how many zones `solver.advance` does, one member of each."""
    zones, doubt, costs = hung(moulds, members), air(members), list[Cost]()
    columns = len(zones) * members
    with measured(costs):
        found = ready_s(*dry(zones, doubt))
    few = [(n, n % members) for n in range(min(second, len(zones)))]
    waits, exact = Waits(zones, few), Bdf(zones, doubt, few)
    truth = waits.of(exact.ready_s(*TIGHT))
    ours = Rival("coatbell", costs[0].cpu_s, apart(waits.of(np.array([found[pair] for pair in few])), truth))
    bdf = equal_error(exact, waits, truth, ours, columns)
    numpy = plain_numpy(zones, doubt, waits, truth, max(plain, len(few)), columns)
    return Comparison(columns, costs[0], len(few), ours, (bdf, numpy))


class Waits:
    """From the dip until ready, of some (zone, member)."""

    def __init__(self, zones: Sequence[MemberZone], few: Sequence[tuple[int, int]]) -> None:
        self.laid_s = np.array([zones[n].time_s for n, _ in few])

    def of(self, ready_s: Array) -> Array:
        out: Array = ready_s - self.laid_s
        return out


def apart(found: Array, truth: Array) -> Array:
    """Shares of the wait. Raises RuntimeError if only one of the two finds a column ready."""
    if not np.array_equal(np.isnan(found), np.isnan(truth)):
        raise RuntimeError("one of the two finds a member ready, the other does not")
    known = ~np.isnan(truth)
    out: Array = np.abs(found[known] / truth[known] - 1.0)
    return out


def alone(zone: MemberZone, i: int) -> Parameters:
    return replace(
        PARAMETERS, transfer_multiplier=float(zone.transfer[i]), stirring_multiplier=float(zone.stirring[i])
    )


class Bdf:
    """Some columns, one at a time, by SciPy."""

    def __init__(self, zones: Sequence[MemberZone], doubt: MemberAir, few: Sequence[tuple[int, int]]) -> None:
        self.zones, self.doubt, self.few = zones, doubt, few

    def ready_s(self, relative: float, absolute: float) -> Array:
        found = [
            second_opinion(
                self.zones[n].member(i),
                END_S,
                self.doubt.of(i),
                alone(self.zones[n], i),
                LIMITS,
                relative,
                absolute,
            ).ready_s
            for n, i in self.few
        ]
        return np.array([np.nan if one is None else one for one in found])


def equal_error(exact: Bdf, waits: Waits, truth: Array, ours: Rival, columns: int) -> Rival:
    """BDF with the loosest tolerances at which its mean error is no larger than ours."""
    for relative, absolute in LOOSER:
        costs = list[Cost]()
        with measured(costs):
            found = exact.ready_s(relative, absolute)
        errors = apart(waits.of(found), truth)
        scaled = costs[0].cpu_s * columns / max(len(exact.few), 1)
        rival = Rival(f"SciPy BDF to {relative:.0e}, scaled up from {len(exact.few)}", scaled, errors)
        if errors.size == 0 or errors.mean() <= ours.errors.mean():
            break
    return rival


def plain_numpy(
    zones: Sequence[MemberZone], doubt: MemberAir, waits: Waits, truth: Array, plain: int, columns: int
) -> Rival:
    """`solver.advance` over one member of each zone: all in the base's air, for it takes one air only.

    Its errors are of the columns that SciPy computes too, each dried in its own air.
    """
    some = [(n, n % zones[n].members) for n in range(min(plain, len(zones)))]
    costs = list[Cost]()
    with measured(costs):
        plainly(zones, some, doubt.base)
    each = some[: truth.size]
    found = np.array([plainly(zones, [one], doubt.of(one[1]))[0] for one in each])
    scaled = costs[0].cpu_s * columns / max(len(some), 1)
    return Rival(f"plain NumPy, scaled up from {len(some)}", scaled, apart(waits.of(found), truth))


def plainly(zones: Sequence[MemberZone], which: Sequence[tuple[int, int]], series: AirSeries) -> list[float]:
    states = [zones[n].member(i) for n, i in which]
    numbers = [alone(zones[n], i) for n, i in which]
    limits = [LIMITS] * len(which)
    now = advance(states, [NOW_S] * len(which), series, numbers, limits)
    later = advance([one.state for one in now], [END_S] * len(which), series, numbers, limits)
    found = [a.ready_s if a.ready_s is not None else b.ready_s for a, b in zip(now, later, strict=True)]
    return [np.nan if one is None else one for one in found]


@dataclass(frozen=True)
class Tick:
    """A minute with one new reading: all members to now, and the forecasts that ran out."""

    moulds: int
    forecasts: int
    minute: Cost
    forecast: Cost


def tick(moulds: int, forecasts: int, members: int) -> Tick:
    zones, doubt, costs = hung(moulds, members), air(members), list[Cost]()
    limits = [LIMITS] * len(zones)
    before = advance_members(zones, [NOW_S - 60.0] * len(zones), doubt.base, PARAMETERS, limits)
    zones = [one.zone for one in before]
    with measured(costs):
        now = advance_members(zones, [NOW_S] * len(zones), doubt.base, PARAMETERS, limits)
    few = [one.zone for one in now[: forecasts * PLACES]]
    with measured(costs):
        advance_members(few, [END_S] * len(few), doubt, PARAMETERS, limits[: len(few)])
    return Tick(moulds, forecasts, *costs)


@contextmanager
def cells_a_coat(count: int) -> Iterator[None]:
    with ExitStack() as stack:
        for module in WITH_CELLS:
            stack.enter_context(mock.patch(f"service.drying.{module}.CELLS_PER_COAT", count))
        yield


def cost_of(moulds: int, members: int, cells: int = CELLS_PER_COAT) -> Cost:
    costs = list[Cost]()
    with cells_a_coat(cells):
        zones, doubt = hung(moulds, members), air(members)
        with measured(costs):
            dry(zones, doubt)
    return costs[0]


def told(result: Comparison) -> str:
    cost, ours = result.cost, result.coatbell
    lines = [
        f"{result.columns} members of {len(COATS)} coats of {CELLS_PER_COAT} cells, up to 24 h of noisy air to now, "
        "48 h ahead",
        f"{cost.wall_s:.1f} s on the clock, {cost.cpu_s:.1f} s of a core, peak memory {cost.peak_mb:.0f} MB",
        f"errors of the wait until ready: {result.compared} members against SciPy BDF to {TIGHT[0]:.0e}",
        str(ours),
        *(f"{rival}; ratio {rival.cpu_s / ours.cpu_s:.0f}" for rival in result.rivals),
    ]
    return "\n".join(lines)


def in_short(cost: Cost) -> str:
    return f"{cost.wall_s:.2f} s ({cost.cpu_s:.2f} s of a core)"


def told_growth(what: str, number: int, cost: Cost, columns: int) -> str:
    each_us = 1e6 * cost.cpu_s / columns
    return f"{what} {number}: {in_short(cost)}, {each_us:.0f} us of it a member"


def told_tick(result: Tick, members: int) -> str:
    return (
        f"tick of {result.moulds} moulds of {PLACES} places with {members} members: "
        f"a minute {in_short(result.minute)}, {result.forecasts} forecasts {in_short(result.forecast)}"
    )


def growth(moulds: Sequence[int], members: Sequence[int], cells: Sequence[int], few: int) -> Iterator[str]:
    for number in moulds:
        yield told_growth("moulds", number, cost_of(number, MEMBERS), number * PLACES * MEMBERS)
    for number in members:
        yield told_growth("members", number, cost_of(few, number), few * PLACES * number)
    for number in cells:
        yield told_growth("cells a coat", number, cost_of(few, MEMBERS, number), few * PLACES * MEMBERS)


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--moulds", type=int, default=500)
    parser.add_argument("--members", type=int, default=MEMBERS)
    parser.add_argument("--second", type=int, default=12, help="members that SciPy computes as well")
    parser.add_argument(
        "--plain", type=int, default=1500, help="members that solver.advance computes as well"
    )
    parser.add_argument(
        "--growth", type=int, default=50, help="moulds with which growth is shown; 0: not at all"
    )
    wanted = parser.parse_args(arguments)
    result = compare(wanted.moulds, wanted.members, wanted.second, wanted.plain)
    print(told(result))
    print(told_tick(tick(min(wanted.moulds, 60), min(wanted.moulds, 12), wanted.members), wanted.members))
    if wanted.growth:
        for line in growth((10, 50, 200), (16, 64, 256), (2, 4, 8), wanted.growth):
            print(line, flush=True)


if __name__ == "__main__":
    main()
