"""Freshly dipped zones left alone."""

from __future__ import annotations

import numpy as np
import pytest

from service.drying.readiness import coat_needs_below_humidity, shell_needs_below_humidity
from service.drying.shell import Coat, Parameters, Pocket, ZoneShape
from service.drying.weather import AirSeries
from service.drying.zone import ZoneState, dip, hang
from service.estimate.look_ahead import DRIER_BY, until_dry, until_ready

HOUR_S = 3600.0
PARAMETERS = Parameters()
BAR = ZoneShape(0.2, 0.04)
FACE = ZoneShape(0.4, 0.3)


def air(humidity: float, temperature_k: float = 294.15, speed_m_s: float = 1.0) -> AirSeries:
    return AirSeries.constant(temperature_k, humidity, speed_m_s, 101325.0)


def wet(*shapes: ZoneShape, at_s: float = 0.0) -> list[ZoneState]:
    return [dip(hang(shape, 294.15, at_s), Coat(0.6e-3), 15.0, PARAMETERS) for shape in shapes]


def needs_ready(limit: float = 0.35) -> float:
    return coat_needs_below_humidity(limit, Coat(0.6e-3), PARAMETERS.isotherm)


def needs_dry(limit: float = 0.02) -> float:
    return shell_needs_below_humidity(limit, [Coat(0.6e-3)], PARAMETERS.isotherm)


def test_it_counts_from_the_dip() -> None:
    (early,) = until_ready(wet(FACE), air(0.5), PARAMETERS, 0.35)
    (late,) = until_ready(wet(FACE, at_s=1e6), air(0.5), PARAMETERS, 0.35)
    assert early.takes_s is not None
    assert 0.2 * HOUR_S < early.takes_s < 5 * HOUR_S
    assert late.takes_s == pytest.approx(early.takes_s, rel=1e-6)


def test_each_zone_has_its_own_wait() -> None:
    bar, face = until_ready(wet(BAR, FACE), air(0.5), PARAMETERS, 0.35)
    assert bar.takes_s is not None
    assert face.takes_s is not None
    assert bar.takes_s < face.takes_s


def test_the_face_is_colder_than_the_air_while_it_dries() -> None:
    (wait,) = until_ready(wet(FACE), air(0.5), PARAMETERS, 0.35)
    assert 285.0 < wait.coldest_k < 292.0


def test_dry_comes_after_ready() -> None:
    (ready,), (dry,) = (
        until_ready(wet(FACE), air(0.4), PARAMETERS, 0.35),
        until_dry(wet(FACE), air(0.4), PARAMETERS, 0.02),
    )
    assert ready.takes_s is not None
    assert dry.takes_s is not None
    assert ready.takes_s < dry.takes_s


class TestTooDamp:
    def test_a_hair_below_the_limit_it_gets_there(self) -> None:
        (wait,) = until_ready(wet(FACE), air(needs_ready() - 0.01), PARAMETERS, 0.35)
        assert wait.takes_s is not None
        assert wait.too_damp is None

    @pytest.mark.parametrize("above", [0.0, 0.01])
    def test_at_the_limit_and_above_it_never_does(self, above: float) -> None:
        humidity = needs_ready() + above
        (wait,) = until_ready(wet(FACE), air(humidity), PARAMETERS, 0.35)
        assert wait.takes_s is None
        assert wait.too_damp is not None
        assert wait.too_damp.air_humidity == humidity
        assert wait.too_damp.needs_below == pytest.approx(needs_ready())

    def test_what_would_do_is_what_that_air_takes(self) -> None:
        (wait,) = until_dry(wet(FACE), air(0.7), PARAMETERS, 0.02)
        assert wait.too_damp is not None
        assert wait.too_damp.would_do_humidity == pytest.approx(needs_dry() - DRIER_BY)
        (there,) = until_dry(wet(FACE), air(wait.too_damp.would_do_humidity), PARAMETERS, 0.02)
        assert wait.too_damp.would_do_s == pytest.approx(there.takes_s)

    def test_a_limit_next_to_nothing_asks_for_half_its_humidity(self) -> None:
        limit = 0.003
        (wait,) = until_dry(wet(FACE), air(0.7), PARAMETERS, limit)
        assert wait.too_damp is not None
        assert wait.too_damp.needs_below == pytest.approx(needs_dry(limit))
        assert 0 < wait.too_damp.would_do_humidity < wait.too_damp.needs_below

    def test_the_face_has_been_at_its_coldest(self) -> None:
        (dry,), (damp,) = (
            until_dry(wet(FACE), air(needs_dry() - 0.01), PARAMETERS, 0.02),
            until_dry(wet(FACE), air(needs_dry() + 0.01), PARAMETERS, 0.02),
        )
        assert damp.coldest_k == pytest.approx(dry.coldest_k, abs=0.3)


class TestChangingAir:
    def series(self, *humidity: float) -> AirSeries:
        times = np.arange(len(humidity), dtype=np.float64) * 12 * HOUR_S
        same = np.ones(len(humidity))
        return AirSeries(times, 294.15 * same, np.array(humidity), 1.0 * same, 101325.0 * same)

    def test_a_dry_day_is_enough_though_the_end_is_damp(self) -> None:
        (wait,) = until_dry(wet(FACE), self.series(0.3, 0.3, 0.3, 0.95), PARAMETERS, 0.02)
        assert wait.takes_s is not None
        assert wait.takes_s < 36 * HOUR_S
        assert wait.too_damp is None

    def test_a_damp_day_is_waited_out(self) -> None:
        (wait,) = until_ready(wet(FACE), self.series(0.99, 0.99, 0.3), PARAMETERS, 0.35)
        (straight,) = until_ready(wet(FACE), air(0.3), PARAMETERS, 0.35)
        assert wait.takes_s is not None
        assert straight.takes_s is not None
        assert wait.takes_s > 12 * HOUR_S > straight.takes_s

    def test_only_what_never_gets_there_is_explained(self) -> None:
        slow = ZoneShape(0.4, 0.3, Pocket(0.5, 0.03))
        bar, big = until_dry(wet(BAR, slow), self.series(0.4, 0.9), PARAMETERS, 0.025)
        assert bar.takes_s is not None
        assert bar.too_damp is None
        assert big.takes_s is None
        assert big.too_damp is not None


def test_what_is_only_too_slow_is_never_without_a_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("service.estimate.look_ahead.LONGEST_S", 600.0)
    (slow,) = until_dry(wet(FACE), air(0.5), PARAMETERS, 0.02)
    assert slow.takes_s is None
    assert slow.too_damp is None


def test_drier_air_may_be_too_slow_as_well(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("service.estimate.look_ahead.LONGEST_S", 600.0)
    (damp,) = until_dry(wet(FACE), air(0.9), PARAMETERS, 0.02)
    assert damp.too_damp is not None
    assert damp.too_damp.would_do_s is None
