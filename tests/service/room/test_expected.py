"""When something is reached and how surely: quantiles of members, and what is usual until these are known."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest

from service.drying.members import advance_members
from service.learning.site import NOTHING_HEARD
from service.learning.smoother import assimilate
from service.learning.when import quantile, slowest
from service.room.anew import Anew
from service.room.estimate import FORECAST_S, Estimator, dry_enough_s
from service.room.expected import LEAST_WAIT_S, expected_of, moved, stretched, usual
from service.room.progress import limits_after
from service.room.stories import story
from tests.service.room.cases import FACE, HOLE, PARAMETERS, T0, WADER, h, mould, seconds, steady

TIMES = np.arange(100.0) + 0.5
"""Reached by one member a second, so that a share of them is its own instant."""


class TestOfMembers:
    @pytest.mark.parametrize("sureness", [0.5, 0.8, 0.9])
    def test_quantiles(self, sureness: float) -> None:
        found = expected_of(TIMES, sureness)
        assert (found.early_s, found.about_s, found.late_s) == pytest.approx((10.0, 50.0, 90.0))
        assert found.sure_s == pytest.approx(100 * sureness)
        assert not found.usual

    def test_who_wants_to_be_surer_than_90_sees_no_late_end_before_its_bell(self) -> None:
        found = expected_of(TIMES, 0.95)
        assert (found.sure_s, found.late_s) == pytest.approx((95.0, 95.0))

    def test_whoever_is_not_foreseen_comes_last(self) -> None:
        found = expected_of(np.concatenate([TIMES[:75], np.full(25, np.nan)]), 0.8)
        assert (found.early_s, found.about_s) == pytest.approx((10.0, 50.0))
        assert (found.sure_s, found.late_s) == (None, None)

    def test_nobody_is_foreseen(self) -> None:
        found = expected_of(np.full(5, np.nan), 0.8)
        assert (found.early_s, found.about_s, found.sure_s, found.late_s) == (None, None, None, None)


class TestStretched:
    def test_all_assumed_doubles_the_logarithms_of_the_waits(self) -> None:
        waits = np.exp(np.linspace(8.0, 10.0, 21))
        found = stretched(1000.0 + waits, 1000.0, 1.0) - 1000.0
        assert np.log(found) - 9.0 == pytest.approx(2 * (np.log(waits) - 9.0))

    def test_nothing_assumed_changes_nothing(self) -> None:
        assert stretched(TIMES, -1e4, 0.0) is TIMES

    def test_no_wait_is_shorter_than_a_minute(self) -> None:
        assert stretched(TIMES, 0.0, 1.0).min() == pytest.approx(LEAST_WAIT_S)

    def test_where_half_are_not_foreseen_there_is_no_middle_to_stretch_about(self) -> None:
        times = np.array([5e3, np.nan, np.nan])
        assert stretched(times, 0.0, 1.0) is times


class TestMoved:
    def test_what_is_to_come_goes_along_and_what_came_stays(self) -> None:
        times = np.array([5.0, 10.0, 20.0, np.nan])
        assert moved(times, 3.0, 10.0) == pytest.approx(np.array([5.0, 10.0, 23.0, np.nan]), nan_ok=True)

    def test_nothing_to_come_goes_into_the_past(self) -> None:
        assert moved(np.array([5.0, 12.0, 20.0]), -5.0, 10.0).tolist() == [5.0, 10.0, 15.0]


class TestUsual:
    def test_around_the_plain_estimate(self) -> None:
        found = usual(10_000.0, 0.0, 0.8)
        assert found.usual
        assert found.about_s == 10_000.0
        assert found.early_s is not None
        assert found.sure_s is not None
        assert found.late_s is not None
        assert found.early_s < 10_000.0 < found.sure_s < found.late_s

    def test_never_less_sure_than_usual_however_little_the_shop_wants(self) -> None:
        assert usual(10_000.0, 0.0, 0.5).sure_s == usual(10_000.0, 0.0, 0.8).sure_s
        surer = usual(10_000.0, 0.0, 0.95)
        assert surer.sure_s is not None
        assert surer.sure_s > (usual(10_000.0, 0.0, 0.8).sure_s or math.inf)
        assert surer.late_s == surer.sure_s

    def test_where_the_plain_estimate_sees_none_there_is_none(self) -> None:
        found = usual(None, 0.0, 0.8)
        assert (found.early_s, found.about_s, found.sure_s, found.late_s) == (None, None, None, None)
        assert found.usual

    @pytest.mark.parametrize("dips", [(0,), (0, 5, 11), (0, 3, 6, 9, 12)])
    def test_members_with_the_whole_doubt_are_sure_earlier(self, dips: Sequence[float]) -> None:
        """So a bell that goes by what is usual never rings before one that knows better."""
        hours = dips[-1] + 0.5
        p, now_s = mould(*dips, recipe=WADER, zones=(FACE, HOLE)), seconds(T0 + h(hours))
        told = story(p, now_s, Anew())
        assert told is not None
        (learnt,) = assimilate([told], [NOTHING_HEARD], steady(), PARAMETERS)
        limits, ends = [limits_after(p.recipe, p.coats_given)] * 2, [now_s + FORECAST_S] * 2
        ahead = advance_members(learnt.now, ends, steady(), PARAMETERS, limits, True)
        times = slowest(np.stack([zone.dry_s if p.for_dewax else zone.ready_s for zone in ahead]))
        zones = Estimator(PARAMETERS).look([p], steady(), steady(), now_s)[1]
        for sureness in (0.8, 0.9):
            known = quantile(times, sureness)
            guessed = usual(dry_enough_s(p, zones), p.dips[-1].at.timestamp(), sureness).sure_s
            assert guessed is not None
            assert known is None or known < guessed
