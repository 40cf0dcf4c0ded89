"""Columns on their way: where a limit is crossed, who is taken out when, and how much precision matters."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import DTypeLike

from service.drying import march
from service.drying.march import Arrived, March, Mask, Pace, Way, _crossing
from service.drying.rosenbrock import State
from tests.service.drying.batches import batch, swinging, three_zones

AIR = swinging(60.0)
HOUR_S = 3600.0
UNTIL_S = np.array([40.0, 1.0, 20.0]) * HOUR_S


def marching(precision: DTypeLike = np.float64, stop_when_dry: bool = False) -> March:
    shells, saturation = batch(three_zones())
    rows = np.concatenate([[[294.0, 293.0, 292.0]], saturation]).astype(precision)
    way = Way(np.zeros(3), UNTIL_S, np.full(3, 0.35), np.full(3, 0.02))
    return March(
        shells.as_precise_as(precision),
        State(rows, np.zeros(3)),
        way,
        lambda start_s, end_s, _: AIR.mean(start_s, end_s),
        Pace(first_s=5.0, longest_s=HOUR_S, saturation=2.5e-3, temperature_k=0.1),
        stop_when_dry,
    )


def same(one: Arrived, other: Arrived, within: float) -> None:
    assert one.time_s.tolist() == other.time_s.tolist()
    assert one.state.rows == pytest.approx(other.state.rows, rel=within, abs=within)
    for name in ("ready_s", "dry_s"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), rel=within, nan_ok=True)


class TestArrival:
    def test_each_comes_to_its_own_end_in_its_own_place(self) -> None:
        assert marching().to_the_end().time_s.tolist() == UNTIL_S.tolist()

    @pytest.mark.parametrize("share", [1, 10**9])
    def test_whether_taken_out_late_or_at_once_is_all_one(
        self, share: int, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        usual = marching().to_the_end()
        monkeypatch.setattr(march, "ARRIVED_SHARE", share)
        same(marching().to_the_end(), usual, 1e-9)

    def test_who_has_arrived_stands_still_while_others_go_on(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(march, "ARRIVED_SHARE", 1)
        moved: list[Mask] = []
        marching().to_the_end(lambda at, taken: moved.append(taken & (at.time_s > UNTIL_S)))
        assert len(moved) > 20
        assert not np.any(moved)

    def test_every_step_taken_is_told_once(self) -> None:
        times: list[list[float]] = [[0.0], [0.0], [0.0]]

        def note(at: March, taken: Mask) -> None:
            for number, time_s in zip(at.number[taken], at.time_s[taken], strict=True):
                times[number].append(float(time_s))

        marching().to_the_end(note)
        assert [own[-1] for own in times] == UNTIL_S.tolist()
        assert all(np.all(np.diff(own) > 0.0) for own in times)

    def test_where_it_stops_when_dry_the_others_go_on(self) -> None:
        arrived = marching(stop_when_dry=True).to_the_end()
        stopped = arrived.time_s < UNTIL_S
        assert stopped.tolist() == (~np.isnan(arrived.ready_s) & ~np.isnan(arrived.dry_s)).tolist()


class TestPrecision:
    def test_single_precision_is_told_from_double_in_the_fifth_digit(self) -> None:
        same(marching(np.float32).to_the_end(), marching().to_the_end(), 2e-5)

    def test_it_stays_single_all_the_way(self) -> None:
        seen = set()
        marching(np.float32).to_the_end(lambda at, _: seen.add(at.state.rows.dtype))
        assert seen == {np.dtype(np.float32)}

    @pytest.mark.parametrize(("precision", "within"), [(np.float32, 1e-5), (np.float64, 1e-12)])
    def test_what_leaves_step_by_step_is_what_is_missing(self, precision: DTypeLike, within: float) -> None:
        going = marching(precision)
        weight = going.shells.water_weight
        before = (going.state.saturation * weight).sum(axis=0)
        state = going.to_the_end().state
        after = (state.saturation * weight).sum(axis=0)
        assert np.all(state.evaporated > 0.03 * before)
        assert after + state.evaporated == pytest.approx(before, rel=within)

    def test_a_second_far_from_1970_is_still_a_second(self) -> None:
        """Clocks are kept in double precision: single knows only every 128th second of today."""
        going = marching(np.float32)
        going.time_s += 1.77e9
        going.until_s = going.time_s + 1.0
        assert (going.to_the_end().time_s - 1.77e9).tolist() == [1.0] * 3


class TestCrossing:
    """Where a parabola from `start`, with first slope `rise`, to `end` falls to the limit."""

    @staticmethod
    def part(start: float, end: float, rise: float, limit: float) -> float:
        return float(_crossing(*(np.array([v]) for v in (start, end, rise, limit)))[0])

    def test_a_straight_line(self) -> None:
        assert self.part(1.0, 0.0, -1.0, 0.25) == pytest.approx(0.75)

    def test_a_parabola(self) -> None:
        """1 - p^2 is 0.75 half way; 1 - 2p + p^2 is 0.25 half way."""
        assert self.part(1.0, 0.0, 0.0, 0.75) == pytest.approx(0.5)
        assert self.part(1.0, 0.0, -2.0, 0.25) == pytest.approx(0.5)

    def test_up_first_and_then_down(self) -> None:
        """1 + p - 3 p^2 is back at 1 at a third, and at 0 at (1 + sqrt 13) / 6."""
        assert self.part(1.0, -1.0, 1.0, 1.0 - 1e-12) == pytest.approx(1.0 / 3.0, abs=1e-6)
        assert self.part(1.0, -1.0, 1.0, 0.0) == pytest.approx((1.0 + 13.0**0.5) / 6.0)

    def test_at_either_end(self) -> None:
        assert self.part(1.0, 0.35, -0.5, 0.35) == pytest.approx(1.0)
        assert self.part(0.35, 0.2, -0.1, 0.35) == 0.0

    @given(
        start=st.floats(0.0, 1.0),
        end=st.floats(-1.0, 1.0),
        rise=st.floats(-3.0, 3.0),
        limit=st.floats(-1.0, 1.0),
    )
    def test_lies_in_the_step(self, start: float, end: float, rise: float, limit: float) -> None:
        if not end <= limit < start:
            return
        p = self.part(start, end, rise, limit)
        assert 0.0 <= p <= 1.0
        assert start + rise * p + (end - start - rise) * p * p == pytest.approx(limit, abs=1e-6)
