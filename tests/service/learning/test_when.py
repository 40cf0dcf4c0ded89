"""When a mould will be ready, and how much of its members must agree."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from service.drying.members import MemberAir, MemberZone
from service.drying.zone import Limits
from service.learning.draws import drawn
from service.learning.lives import play
from service.learning.unknowns import unknowns_of
from service.learning.when import forecast, quantile, slowest
from tests.service.learning.scene import FACE, HOUR_S, PARAMETERS, POCKET, ROOM, a_story, start

Array = NDArray[np.float64]
NAN = float("nan")
LIMITS = Limits(0.35, 0.08)


def zones(count: int = 8) -> tuple[MemberZone, ...]:
    story = a_story((0.0,), 0.5, zones=(FACE, POCKET))
    unknowns = unknowns_of(story)
    return play([story], [unknowns], [drawn(*start(unknowns), count)], ROOM, PARAMETERS)[0].now


class TestQuantile:
    def test_each_member_stands_for_the_middle_of_its_share(self) -> None:
        times = np.array([30.0, 10.0, 20.0, 40.0])
        assert [quantile(times, share) for share in (0.125, 0.375, 0.625, 0.875)] == [10.0, 20.0, 30.0, 40.0]
        assert quantile(times, 0.5) == 25.0

    def test_ends_at_the_first_and_the_last(self) -> None:
        times = np.array([30.0, 10.0, 20.0, 40.0])
        assert quantile(times, 0.0) == quantile(times, 0.1) == 10.0
        assert quantile(times, 1.0) == quantile(times, 0.9) == 40.0

    @pytest.mark.parametrize("share", [0.1, 0.5, 0.8, 0.9])
    def test_is_hazens(self, share: float) -> None:
        times = np.random.default_rng(2).normal(size=64)
        assert quantile(times, share) == pytest.approx(float(np.quantile(times, share, method="hazen")))

    def test_who_does_not_get_there_is_later_than_all(self) -> None:
        times = np.array([NAN, 10.0, 20.0, NAN])
        assert quantile(times, 0.375) == 20.0
        assert quantile(times, 0.3751) is None
        assert quantile(times, 0.9) is None

    def test_if_nobody_gets_there_there_is_none(self) -> None:
        assert quantile(np.array([NAN, NAN]), 0.1) is None

    @pytest.mark.parametrize("share", [-0.01, 1.01, NAN])
    def test_a_share_is_a_share(self, share: float) -> None:
        with pytest.raises(ValueError, match="between 0 and 1"):
            quantile(np.array([1.0]), share)

    def test_of_nobody_is_none_at_all(self) -> None:
        with pytest.raises(ValueError, match="some members"):
            quantile(np.zeros(0), 0.5)


class TestForecast:
    def test_a_mould_is_as_ready_as_its_slowest_zone(self) -> None:
        both = zones()
        together = forecast(both, 60 * HOUR_S, ROOM, PARAMETERS, LIMITS)
        face, pocket = (forecast([zone], 60 * HOUR_S, ROOM, PARAMETERS, LIMITS) for zone in both)
        assert together.ready_s == pytest.approx(np.maximum(face.ready_s, pocket.ready_s), rel=1e-5)
        assert together.dry_s == pytest.approx(np.maximum(face.dry_s, pocket.dry_s), rel=1e-5)
        assert (pocket.ready_s > face.ready_s).all()

    def test_who_does_not_get_there_in_time_does_not_get_there(self) -> None:
        every = forecast(zones(), 60 * HOUR_S, ROOM, PARAMETERS, LIMITS).ready_s
        middle_s = float(np.sort(every)[3:5].mean())
        some = forecast(zones(), middle_s, ROOM, PARAMETERS, LIMITS).ready_s
        assert np.isnan(some).sum() == 4
        assert (np.isnan(some) == (every > middle_s)).all()

    def test_each_member_in_its_own_air(self) -> None:
        shares = np.linspace(-1.0, 1.0, 8)[:, None]
        air = MemberAir(ROOM, np.array([0.0]), np.zeros((1, 1)), np.full((1, 1), 0.3), shares)
        plain = forecast(zones(), 60 * HOUR_S, ROOM, PARAMETERS, LIMITS).ready_s
        own = forecast(zones(), 60 * HOUR_S, air, PARAMETERS, LIMITS).ready_s
        later = np.nan_to_num(own, nan=np.inf) - plain
        assert (later[:4] < 0.0).all()
        assert (later[4:] > 0.0).all()

    def test_a_mould_without_a_zone_is_refused(self) -> None:
        with pytest.raises(ValueError, match="at least one zone"):
            forecast([], HOUR_S, ROOM, PARAMETERS, LIMITS)

    def test_backwards_is_refused(self) -> None:
        with pytest.raises(ValueError, match="backwards"):
            forecast(zones(2), 0.0, ROOM, PARAMETERS, LIMITS)


def test_a_zone_that_does_not_get_there_keeps_its_mould() -> None:
    assert slowest(np.array([[1.0, 2.0], [3.0, NAN]])) == pytest.approx([3.0, NAN], nan_ok=True)
