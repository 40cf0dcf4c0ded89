"""The benchmark of a running shop runs, and says what it is to say. Nothing is said of time."""

from __future__ import annotations

import pytest

from tests.benchmarks.bench_tick import main


def test_it_prints_what_each_thing_costs(capsys: pytest.CaptureFixture[str]) -> None:
    main(["--moulds", "2", "--hours", "0.05", "--members", "8"])
    printed = capsys.readouterr().out
    assert "2 moulds with three places, 8 members" in printed
    for part in ("first look", "as after a start", "after one reading", "% of a core", "heard of", "memory"):
        assert part in printed
