"""A month of random faults, and what was told in it held against what should have been, event by event."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from service.alerts.kinds import Echo, Kind
from tests.end_to_end.month import BENCH_1, WALL, Month, Stored
from tests.end_to_end.month_oracle import Oracle

SEED = int(os.environ.get("COATBELL_TEST_SEED", "20260302"))
LEAST: dict[str, int] = {
    "rings": 150,
    "put off rings": 3,
    "repeats": 10,
    "second turns": 30,
    "blind moments": 200,
    Kind.LONGEST_WAIT_NEAR: 30,
    Kind.LONGEST_WAIT_PAST: 30,
    Kind.BEFORE_NIGHT: 15,
    Kind.BROKER_DOWN: 3,
    Echo.REMINDER: 100,
    Echo.TAKEN_ON: 5,
}
"""So many of each there are at least in a month, or it proves little."""


@pytest.fixture(scope="module")
def month() -> Month:
    lived = Month(SEED)
    lived.live()
    return lived


@pytest.fixture(scope="module")
def oracle(month: Month) -> Oracle:
    return Oracle(month)


def test_all_that_was_due_was_told_and_nothing_else(oracle: Oracle) -> None:
    assert oracle.faults() == []


def test_enough_happened_to_prove_something(month: Month, oracle: Oracle) -> None:
    counts = oracle.counts()
    assert {kind: counts[kind] for kind, least in LEAST.items() if counts[kind] < least} == {}
    assert month.starts > 3


def test_some_days_with_records_on_the_disk(tmp_path: Path) -> None:
    month = Month(SEED, days=3, folder=tmp_path)
    month.live()
    seen = Oracle(month)
    assert seen.faults() == []
    assert seen.counts()["rings"] > 10


class TestTheOracleItself:
    """It would see what is wrong."""

    def test_a_bell_that_nobody_hears(self, month: Month, oracle: Oracle) -> None:
        name, ring = next(iter(oracle.must_hear()))
        faults = self._without(month, name, oracle.key_of(ring))
        assert any(f"{name} heard nothing of {ring.mould.name}" in fault for fault in faults)

    def test_a_bell_that_the_wall_does_not_hear(self, month: Month, oracle: Oracle) -> None:
        key = next(oracle.key_of(ring) for ring in oracle.rings if oracle.had_to_ring(ring))
        assert any("not rung at" in fault for fault in self._without(month, WALL, key))

    def test_a_bell_that_rings_twice(self, month: Month) -> None:
        stored = month.phones[WALL].stored
        twice = next(item for item in stored if item.kind == Kind.NEXT_DIP)
        stored.append(twice)
        faults = Oracle(month).faults()
        stored.remove(twice)
        assert any("second copy" in fault for fault in faults)

    def test_a_bell_at_night(self, month: Month, oracle: Oracle) -> None:
        at_night = next(ring for ring in oracle.rings if not oracle.reachable(BENCH_1, ring.at))
        on_the_wall = next(
            item
            for item in month.phones[WALL].stored
            if item.at == at_night.at and item.kind == Kind.NEXT_DIP
        )
        wrong = Stored(
            at_night.at, BENCH_1, on_the_wall.key, *("next dip due", on_the_wall.subject), False, ""
        )
        month.phones[BENCH_1].stored.append(wrong)
        faults = Oracle(month).faults()
        month.phones[BENCH_1].stored.remove(wrong)
        assert any("wrong hour" in fault for fault in faults)

    def _without(self, month: Month, name: str, key: str | None) -> list[str]:
        kept = list(month.phones[name].stored)
        month.phones[name].stored[:] = [item for item in kept if item.key != key]
        faults = Oracle(month).faults()
        month.phones[name].stored[:] = kept
        return faults
