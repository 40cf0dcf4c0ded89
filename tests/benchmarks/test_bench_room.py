"""The benchmark of rooms runs; nothing is said of time."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.bench_room import main, season


def test_it_prints_how_long_a_question_takes(capsys: pytest.CaptureFixture[str]) -> None:
    main(["--days", "0", "--moulds", "1"])
    assert "what if, 1 moulds of 2 zones:" in capsys.readouterr().out


def test_a_shed_fed_by_its_moulds_is_damp_when_they_are_wet() -> None:
    fed, plain = season(1, True), season(1, False)
    assert fed.given_off_kg_s.sum() * 300.0 > 1.0
    assert not np.allclose(fed.humidity, plain.humidity, atol=0.005)
    assert 0.1 < fed.humidity.min() <= fed.humidity.max() <= 1.0
    assert len(fed.moulds) == 48
