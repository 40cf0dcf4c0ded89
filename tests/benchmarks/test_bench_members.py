"""The benchmark of members runs, and its three solvers agree. Nothing is said of time."""

from __future__ import annotations

import numpy as np
import pytest

from service.drying import march, shell
from tests.benchmarks.bench_members import (
    END_S,
    NOW_S,
    air,
    apart,
    cells_a_coat,
    compare,
    cost_of,
    hung,
    main,
    tick,
)


def test_all_three_agree() -> None:
    """Within 1 % of the wait until ready of SciPy's tight solution."""
    result = compare(moulds=1, members=2, second=1, plain=2)
    assert result.columns == 6
    assert result.compared == 1
    assert result.coatbell.errors.max() < 0.01
    assert all(rival.errors.size == 1 and rival.errors.max() < 0.02 for rival in result.rivals)


def test_it_prints_times_errors_ratios_and_growth(capsys: pytest.CaptureFixture[str]) -> None:
    main(["--moulds", "1", "--members", "2", "--second", "0", "--plain", "1", "--growth", "0"])
    printed = capsys.readouterr().out
    for part in (
        "6 members of 8 coats of 4 cells",
        "peak memory",
        "SciPy BDF",
        "plain NumPy",
        "ratio",
        "tick of 1",
    ):
        assert part in printed


def test_one_that_only_one_finds_ready_is_no_comparison() -> None:
    with pytest.raises(RuntimeError, match="one of the two"):
        apart(np.array([1.0, np.nan]), np.array([1.0, 2.0]))


def test_a_tick_has_a_minute_and_its_forecasts() -> None:
    result = tick(moulds=2, forecasts=1, members=2)
    assert (result.moulds, result.forecasts) == (2, 1)


def test_other_cells_a_coat_are_put_back() -> None:
    with cells_a_coat(2):
        (zone, *_) = hung(1, 2)
        assert len(zone.saturation) == 2 * len(zone.coats)
        assert cost_of(1, 2, cells=2).cpu_s > 0.0
    assert (shell.CELLS_PER_COAT, march.CELLS_PER_COAT) == (4, 4)


def test_nobody_doubts_the_air_that_was_read() -> None:
    doubt = air(3)
    for i in range(3):
        t = np.linspace(0.0, NOW_S, 50)
        assert doubt.of(i).at(t).humidity == pytest.approx(doubt.base.at(t).humidity)
    later = np.array([END_S])
    assert np.unique([doubt.of(i).at(later).humidity for i in range(3)]).size == 3


def test_the_members_are_the_same_every_time() -> None:
    again = zip(hung(2, 3), hung(2, 3), strict=True)
    assert all(a.time_s == b.time_s and np.array_equal(a.thickness, b.thickness) for a, b in again)
