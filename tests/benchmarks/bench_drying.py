"""How long the drying of a full shop takes, beside SciPy's BDF on the same zones in the same noisy air.

    python -m tests.benchmarks.bench_drying [--zones 500] [--second 10]

Both bring each zone from its last dip to now and forecast 48 h more. SciPy's BDF takes one zone at a time, with the
model written in plain Python (tests/physics/second_model.py); it is run on a few of the zones and scaled up. Times
depend on the machine: they are printed, never asserted.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.drying.shell import CELLS_PER_COAT, Coat, Parameters, Pocket, ZoneShape
from service.drying.solver import Dried, advance
from service.drying.weather import AirSeries
from service.drying.zone import Limits, ZoneState
from tests.physics.second_model import SecondOpinion, second_opinion

HOUR_S = 3600.0
NOW_S = 24 * HOUR_S
END_S = NOW_S + 48 * HOUR_S
READING_S = 300.0
LIMITS = Limits()


@dataclass(frozen=True)
class Difference:
    """One zone: hours between the two moments of being ready, as a share of the wait, and as saturation.

    Where a coat creeps along its limit a hair of saturation is a long time: `saturation` is how far from the limit
    our coat is at SciPy's moment.
    """

    hours: float
    share: float
    saturation: float


@dataclass(frozen=True)
class Comparison:
    """Seconds for all zones, and the differences of the zones that both computed."""

    zones: int
    second_zones: int
    to_now_s: float
    forecast_s: float
    second_s: float
    differences: tuple[Difference, ...]

    @property
    def ratio(self) -> float:
        return self.second_s / (self.to_now_s + self.forecast_s)


def noisy_air(seed: int = 1) -> AirSeries:
    """Three days of five-minute readings: a daily swing, 0.2 K and 2 points of noise, a fan some hours a day."""
    draw = np.random.default_rng(seed)
    time_s = np.arange(0.0, END_S + 1.0, READING_S)
    day = np.sin(2 * np.pi * time_s / (24 * HOUR_S))
    return AirSeries(
        time_s,
        292.0 + 3.0 * day + draw.normal(0.0, 0.2, time_s.size),
        0.5 - 0.12 * day + draw.normal(0.0, 0.02, time_s.size),
        np.where(day > 0.7, 1.2, 0.25),
        np.full(time_s.size, 101325.0),
    )


def wet_zones(count: int, seed: int = 2) -> list[ZoneState]:
    """Faces, bars and pockets with one to nine coats, last dipped at some time in the day before now."""
    draw = np.random.default_rng(seed)
    return [wet_zone(draw) for _ in range(count)]


def wet_zone(draw: np.random.Generator) -> ZoneState:
    width = draw.uniform(0.04, 0.5)
    pocket = (
        Pocket(draw.uniform(1.0, 2.5) * 0.04, 0.04, bool(draw.integers(2))) if draw.random() < 0.3 else None
    )
    coats = tuple(Coat(t) for t in ([0.6e-3] * 2 + [1.1e-3] * 7)[: draw.integers(1, 10)])
    under = np.full((len(coats) - 1) * CELLS_PER_COAT, draw.uniform(0.1, 0.6))
    saturation = np.concatenate([np.ones(CELLS_PER_COAT), under])
    shape = ZoneShape(draw.uniform(0.1, 0.8), width, pocket)
    return ZoneState(shape, draw.uniform(0.0, NOW_S), 292.0, coats, saturation)


def compare(zones: int, second_zones: int) -> Comparison:
    states, air, limits = wet_zones(zones), noisy_air(), [LIMITS] * zones
    started = time.perf_counter()
    now = advance(states, [NOW_S] * zones, air, Parameters(), limits)
    at_now = time.perf_counter()
    later = advance([done.state for done in now], [END_S] * zones, air, Parameters(), limits)
    ended = time.perf_counter()
    few = states[:second_zones]
    seconds = [second_opinion(z, END_S, air, Parameters(), LIMITS) for z in few]
    second_s = (time.perf_counter() - ended) * zones / max(second_zones, 1)
    found = tuple(difference(*both) for both in zip(now, later, seconds, strict=False))
    return Comparison(zones, second_zones, at_now - started, ended - at_now, second_s, found)


def difference(to_now: Dried, forecast: Dried, second: SecondOpinion) -> Difference:
    """Raises RuntimeError if only one of the two finds the zone ready."""
    ready_s = to_now.ready_s if to_now.ready_s is not None else forecast.ready_s
    if ready_s is None and second.ready_s is None:
        return Difference(0.0, 0.0, 0.0)
    if ready_s is None or second.ready_s is None:
        raise RuntimeError("one of the two finds a zone ready, the other does not")
    path = np.concatenate([to_now.path, forecast.path])
    then = float(np.interp(second.ready_s, path[:, 0], path[:, 1]))
    apart_s = abs(ready_s - second.ready_s)
    return Difference(
        apart_s / HOUR_S, apart_s / (second.ready_s - path[0, 0]), abs(then - LIMITS.ready_saturation)
    )


def told(result: Comparison) -> str:
    scaled = "" if result.second_zones == result.zones else f" (scaled up from {result.second_zones})"
    worst = max(result.differences, key=lambda d: d.hours, default=Difference(0.0, 0.0, 0.0))
    return "\n".join(
        [
            f"{result.zones} wet zones, five-minute noisy air, up to 24 h to now and 48 h ahead",
            f"coatbell: to now {result.to_now_s:.2f} s, forecast {result.forecast_s:.2f} s",
            f"SciPy BDF, one zone at a time: {result.second_s:.1f} s{scaled}",
            f"ratio {result.ratio:.0f}",
            f"largest difference in hours until ready over {len(result.differences)} zones: {worst.hours:.3f} h "
            f"({100 * worst.share:.2f} %), {worst.saturation:.5f} of saturation",
        ]
    )


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--zones", type=int, default=500)
    parser.add_argument("--second", type=int, default=10, help="zones that SciPy computes as well")
    wanted = parser.parse_args(arguments)
    print(told(compare(wanted.zones, min(wanted.second, wanted.zones))))


if __name__ == "__main__":
    main()
