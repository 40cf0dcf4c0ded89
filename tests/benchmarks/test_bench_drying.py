"""The drying benchmark runs, and its two solvers agree. Nothing is said of time."""

from __future__ import annotations

import pytest

from tests.benchmarks.bench_drying import compare, main, wet_zones


def test_both_solvers_agree_on_the_zones_of_the_benchmark() -> None:
    """0.002 of saturation at SciPy's moment, and 1 % of the wait save where the coat creeps along its limit."""
    result = compare(zones=12, second_zones=4)
    assert len(result.differences) == 4
    assert max(d.saturation for d in result.differences) < 0.002
    assert sorted(d.share for d in result.differences)[-2] < 0.01


def test_it_prints_both_times_the_ratio_and_the_difference(capsys: pytest.CaptureFixture[str]) -> None:
    main(["--zones", "2", "--second", "1"])
    printed = capsys.readouterr().out
    assert "2 wet zones" in printed
    assert "scaled up from 1" in printed
    for part in ("coatbell: to now", "SciPy BDF", "ratio", "largest difference"):
        assert part in printed


def test_the_zones_are_the_same_every_time() -> None:
    again = zip(wet_zones(5), wet_zones(5), strict=True)
    assert all(one.time_s == other.time_s and one.coats == other.coats for one, other in again)
