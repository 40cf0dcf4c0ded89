"""Finished shells for tests: plain ones, and whole shops with a planted difference or with none."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta

from service.records.facts import FaultKind
from service.room.views import Factor, ShellSummary

START = datetime(2025, 3, 3, 8, tzinfo=UTC)
NAMES = ("Heron", "Curlew", "Avocet", "Ship's bell", "Portrait head", "Gate panel", "Redshank", "Godwit")
RECIPES = ("wading bird", "bell or head", "gate panel")


def shell(
    number: int,
    verdict: str | None = "sound",
    faults: Sequence[FaultKind] = (),
    recipe: str = "wading bird",
    factors: Mapping[Factor, float | None] | None = None,
) -> ShellSummary:
    """One shell; a factor left out is not known."""
    began = START + timedelta(days=number)
    return ShellSummary(
        mould_id=number,
        name=f"{NAMES[number % len(NAMES)]} {number}",
        recipe=recipe,
        started_at=began,
        ended_at=began + timedelta(days=6),
        verdict=verdict,
        faults=tuple(faults),
        factors=dict.fromkeys(Factor) | dict(factors or {}),
    )


def usual(draw: random.Random) -> dict[Factor, float | None]:
    """How a shell is made here, well or badly, whatever comes of it."""
    return {
        Factor.EARLY_DIPS: float(draw.random() < 0.15),
        Factor.WETTEST_COAT: draw.gauss(-0.05, 0.06),
        Factor.PRIME_SWING: abs(draw.gauss(1.4, 0.6)),
        Factor.PRIME_TOO_DRY: draw.choice([0.0, 0.0, 0.0, 1800.0, 5400.0]),
        Factor.COATS_SHORT: float(draw.random() < 0.06),
        Factor.THICKNESS: draw.choice([0.0068, 0.0079, 0.0092]),
        Factor.WIRES_SHORT: float(draw.random() < 0.12),
        Factor.LATE_DIPS: float(draw.random() < 0.2),
        Factor.TANK_AGE: draw.uniform(0.2, 9) * 86400 if draw.random() < 0.8 else None,
        Factor.UNMEASURED: draw.choice([0.0, 0.0, 0.01, 0.08]),
        Factor.WATER_AT_END: draw.gauss(0.018, 0.002),
        Factor.FINAL_WAIT: draw.uniform(30, 70) * 3600,
    }


def shop(count: int, seed: int, failing: float = 0.2, planted: bool = False) -> list[ShellSummary]:
    """`planted`: most of the shells that ran out had a coat dipped too early, and swung more under prime.

    Without it, how a shell came out has nothing to do with how it was made.
    """
    draw, found = random.Random(seed), []
    for number in range(1, count + 1):
        failed, factors = draw.random() < failing, usual(draw)
        fault = draw.choice([FaultKind.RUN_OUT, FaultKind.RUN_OUT, FaultKind.CRACK, FaultKind.INCLUSION])
        if planted and failed and fault is FaultKind.RUN_OUT:
            factors[Factor.EARLY_DIPS] = float(draw.random() < 0.9)
            factors[Factor.PRIME_SWING] = abs(draw.gauss(3.2, 0.7))
        verdict = "failed" if failed else "sound"
        found.append(shell(number, verdict, [fault] if failed else [], draw.choice(RECIPES), factors))
    return found
