"""How wide a time without readings makes an estimate: worked out with other air, held against the model itself."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest

from service.drying.history import Life, Stretch, play_back
from service.drying.weather import AirSeries
from service.reading import Quantity, Reading
from service.room.air_book import RoomAir
from service.room.air_forecast import forecast_air
from service.room.blind import Span, air_then, extremes_k, guesses, moulds_across
from service.room.blind_views import AirThen, MouldAcross
from service.room.estimate import FORECAST_S, Estimator, dry_enough_s
from service.room.hung_in import Hung
from service.room.mould_view import due_by
from service.room.progress import Progress
from tests.service.room.cases import (
    BACKUP_STEP,
    FACE,
    FINAL,
    HOLE,
    PARAMETERS,
    PRIME_STEP,
    T0,
    WARM_K,
    Recipe,
    h,
    mould,
    reading,
    room_air,
    seconds,
)

QUICK = Recipe(
    name="quick",
    title="Nothing but drying",
    steps=(
        PRIME_STEP.model_copy(update={"least_wait_s": 0.0}),
        BACKUP_STEP.model_copy(update={"least_wait_s": 0.0}),
        FINAL,
    ),
)
SOLVER = timedelta(minutes=5)
"""The same life worked out in other steps."""
CUT, BACK, NOW = 24.0, 30.0, 30.5


def across(p: Progress, air: RoomAir, to_come: AirSeries | None = None) -> list[MouldAcross]:
    now_s = seconds(T0 + h(NOW))
    ahead = to_come or forecast_air(air, now_s, FORECAST_S).series
    span = Span(seconds(T0 + h(CUT)), seconds(T0 + h(BACK)), now_s)
    due = {p.mould_id: due_in(p, air.series, ahead)}
    return moulds_across([Hung(p, air, ahead)], {1: span}, due, PARAMETERS)


def due_in(p: Progress, air: AirSeries, to_come: AirSeries) -> datetime | None:
    """What the estimator itself says, had this been the air."""
    seen = Estimator(PARAMETERS).look([p], air, to_come, seconds(T0 + h(NOW)))
    return due_by(p, dry_enough_s(p, seen.get(p.mould_id, ())))


def shed_air(
    before: tuple[float, float] = (WARM_K, 0.5), after: tuple[float, float] = (WARM_K, 0.5)
) -> RoomAir:
    """Still air on either side of the cut; meanwhile the last is held, as everywhere."""
    air = room_air(hours=NOW + 0.1, gaps=[(CUT, BACK)])
    late = air.series.time_s >= seconds(T0 + h(BACK))
    t, humid = (np.where(late, b, a) for a, b in zip(before, after, strict=True))
    series = AirSeries(air.series.time_s, t, humid, air.series.speed_m_s, air.series.pressure_pa)
    return RoomAir(series, air.measured, air.speed_measured, air.pressure_measured)


def test_in_air_that_is_the_same_on_both_sides_nothing_is_wide() -> None:
    (found,) = across(mould(CUT - 0.5, recipe=QUICK), shed_air())
    assert found.due_at is not None
    assert found.least is not None
    assert found.most is not None
    assert abs(found.least - found.due_at) < timedelta(minutes=1)
    assert abs(found.most - found.due_at) < timedelta(minutes=1)


def test_the_bounds_are_what_the_model_says_for_each_air() -> None:
    """Four lives worked out one by one by the estimator; the least and the most of them and of the plain one."""
    p, air = mould(CUT - 0.5, recipe=QUICK), shed_air(after=(WARM_K - 9, 0.85))
    to_come = forecast_air(air, seconds(T0 + h(NOW)), FORECAST_S).series
    (found,) = across(p, air)
    blind = (air.series.time_s > seconds(T0 + h(CUT))) & (air.series.time_s < seconds(T0 + h(BACK)))
    dues = [due_in(p, air.series, to_come)]
    for k, share in ((WARM_K, 0.5), (WARM_K - 9, 0.85)):  # the extremes of the day are these two as well
        s = air.series
        other = AirSeries(
            s.time_s,
            np.where(blind, k, s.temperature_k),
            np.where(blind, share, s.humidity),
            s.speed_m_s,
            s.pressure_pa,
        )
        dues.append(due_in(p, other, to_come))
    known = [due for due in dues if due is not None]
    assert found.least is not None
    assert len(known) == 3
    assert found.most is not None
    assert abs(found.least - min(known)) < SOLVER
    assert abs(found.most - max(known)) < SOLVER


def test_colder_and_damper_after_makes_it_later_at_most_and_no_earlier_at_least() -> None:
    p = mould(CUT - 0.5, recipe=QUICK)
    (same,) = across(p, shed_air())
    (wide,) = across(p, shed_air(after=(WARM_K - 6, 0.65)))
    assert wide.least is not None
    assert wide.most is not None
    assert wide.due_at is not None
    assert wide.least <= wide.due_at <= wide.most
    assert wide.most - wide.least > timedelta(minutes=30)
    assert same.most is not None
    assert wide.most > same.most


def test_the_days_own_swing_is_among_what_may_have_been() -> None:
    p = mould(CUT - 0.5, recipe=QUICK)
    swinging = room_air(hours=NOW + 0.1, swing_k=10.0, gaps=[(CUT, BACK)])
    (found,) = across(p, swinging)
    assert found.most is not None
    assert found.least is not None
    assert found.most - found.least > timedelta(minutes=10)


def test_beyond_the_forecast_only_the_least_is_known() -> None:
    damp = AirSeries.constant(WARM_K - 12, 0.97, 0.2, 101325.0)
    (found,) = across(mould(CUT - 0.5, recipe=QUICK), shed_air(after=(WARM_K - 12, 0.97)), damp)
    assert found.least is not None
    assert found.most is None


def test_what_was_ready_before_the_cut_is_left_out() -> None:
    assert across(mould(1.0, recipe=QUICK), shed_air()) == []


@pytest.mark.parametrize(("dip_h", "among"), [(BACK - 0.01, True), (BACK, False)])
def test_what_was_dipped_meanwhile_is_among_them_what_was_dipped_after_is_not(
    dip_h: float, among: bool
) -> None:
    assert bool(across(mould(dip_h, recipe=QUICK), shed_air())) is among


def test_a_mould_without_a_coat_is_left_out() -> None:
    assert across(mould(recipe=QUICK), shed_air()) == []


def test_the_slowest_zone_is_waited_for_in_every_air() -> None:
    face, both = mould(CUT - 0.5, recipe=QUICK), mould(CUT - 0.5, recipe=QUICK, zones=(HOLE,))
    air = shed_air(after=(WARM_K - 4, 0.55))
    (open_face,), (hole,) = across(face, air), across(both, air)
    assert open_face.least is not None
    assert hole.least is not None
    assert hole.least > open_face.least


def test_with_all_coats_on_it_is_dewax_that_is_waited_for() -> None:
    (found,) = across(mould(CUT - 12, CUT - 1, recipe=QUICK), shed_air(after=(WARM_K - 4, 0.55)))
    assert found.for_dewax
    assert found.least is not None
    assert found.least >= T0 + h(CUT - 1 + 24)


def test_fifty_moulds_are_worked_out_together() -> None:
    air = shed_air(after=(WARM_K - 4, 0.55))
    to_come = forecast_air(air, seconds(T0 + h(NOW)), FORECAST_S).series
    hung = [Hung(mould(CUT - 0.5, recipe=QUICK, mould_id=n), air, to_come) for n in range(50, 0, -1)]
    span = Span(seconds(T0 + h(CUT)), seconds(T0 + h(BACK)), seconds(T0 + h(NOW)))
    found = moulds_across(hung, {1: span}, {}, PARAMETERS)
    assert [one.id for one in found] == list(range(1, 51))
    assert len({one.least for one in found}) == 1


def test_one_that_cannot_be_worked_out_stops_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    def stubborn(lives: list[Life], *rest: Any) -> list[tuple[Stretch, ...]]:
        if any(life.shape.width_m == 0.123 for life in lives):
            raise FloatingPointError
        return play_back(lives, *rest)

    monkeypatch.setattr("service.room.blind.play_back", stubborn)
    air = shed_air(after=(WARM_K - 4, 0.55))
    odd = FACE.model_copy(update={"width_m": 0.123})
    moulds = [mould(CUT - 0.5, recipe=QUICK, mould_id=n, zones=(odd if n == 2 else FACE,)) for n in (1, 2, 3)]
    to_come = forecast_air(air, seconds(T0 + h(NOW)), FORECAST_S).series
    span = Span(seconds(T0 + h(CUT)), seconds(T0 + h(BACK)), seconds(T0 + h(NOW)))
    found = moulds_across([Hung(p, air, to_come) for p in moulds], {1: span}, {}, PARAMETERS)
    assert [one.id for one in found] == [1, 3]


class TestGuesses:
    def span(self, back_h: float = BACK) -> Span:
        return Span(seconds(T0 + h(CUT)), seconds(T0 + h(back_h)), seconds(T0 + h(NOW)))

    def test_before_after_and_the_two_extremes_of_the_day(self) -> None:
        air = room_air(hours=NOW, swing_k=4.0, gaps=[(CUT, BACK)])
        middle = np.array([seconds(T0 + h(27))])
        found = [
            (a.temperature_k[0], a.humidity[0]) for a in (s.at(middle) for s in guesses(air, self.span()))
        ]
        t, day = air.series.temperature_k, air.measured
        before, after = air.series.time_s < self.span().since_s, air.series.time_s > self.span().until_s
        levels = [t[before][-1], t[after][0], t[day].max(), t[day].min()]
        assert [k for k, _ in found] == pytest.approx(levels)

    def test_the_same_is_worked_out_once(self) -> None:
        air = shed_air(before=(295.0, 0.4), after=(285.0, 0.8))
        assert len(guesses(air, self.span())) == 2

    def test_what_was_measured_stays_as_it_was(self) -> None:
        air = shed_air(after=(285.0, 0.8))
        for guess in guesses(air, self.span()):
            assert (
                guess.temperature_k[air.measured].tolist() == air.series.temperature_k[air.measured].tolist()
            )

    def test_without_a_reading_after_it_only_the_day_before_is_asked(self) -> None:
        air = room_air(hours=NOW, gaps=[(CUT, NOW + 1)])
        assert len(guesses(air, Span(seconds(T0 + h(CUT)), float("inf"), seconds(T0 + h(NOW))))) == 1

    def test_less_than_five_minutes_is_nothing_to_guess(self) -> None:
        air = room_air(hours=NOW)
        assert guesses(air, self.span(CUT + 0.05)) == [air.series]

    def test_air_of_more_than_a_day_before_says_nothing(self) -> None:
        air = room_air(hours=60, gaps=[(10, 60)])
        span = Span(seconds(T0 + h(40)), seconds(T0 + h(50)), seconds(T0 + h(59)))
        assert guesses(air, span) == [air.series]


def then(temperature_k: float, rise_k_h: float = 0.0, hour: float = 0.0) -> AirThen:
    return AirThen(T0 + h(hour), temperature_k, 0.5, rise_k_h / 3600)


class TestExtremes:
    @pytest.mark.parametrize(
        ("before", "after", "coldest", "warmest"),
        [
            (then(294), then(280, hour=10), 280, 294),
            (then(290, -1), then(290, 1, hour=10), 285, 290),  # both lines meet half-way, 5 K down
            (then(290, 1), then(290, -1, hour=10), 290, 295),
            (then(290, -1), then(286, -1, hour=10), 286, 290),  # it went on getting colder: no turn between
            (then(290, 0), then(286, 1, hour=10), 286, 290),
            (then(290, -0.1), then(280, 0.1, hour=10), 280, 290),  # the lines do not meet in between
        ],
    )
    def test_between_the_ends_or_where_the_trends_meet(
        self, before: AirThen, after: AirThen, coldest: float, warmest: float
    ) -> None:
        assert extremes_k(before, after) == pytest.approx((coldest, warmest))

    @pytest.mark.parametrize("ends", [(None, then(280)), (then(280), None), (None, None)])
    def test_one_side_alone_says_nothing(self, ends: tuple[AirThen | None, AirThen | None]) -> None:
        assert extremes_k(*ends) == (None, None)


class TestAirThen:
    def both(self, *temperatures: tuple[float, float]) -> tuple[list[Reading], list[Reading]]:
        warm = [reading(T0 + timedelta(minutes=m), k) for m, k in temperatures]
        damp = [
            reading(T0 + timedelta(minutes=m), 0.4 + m / 1000, Quantity.RELATIVE_HUMIDITY)
            for m, _ in temperatures
        ]
        return warm, damp

    def test_the_first_and_the_last(self) -> None:
        warm, damp = self.both((0, 290.0), (10, 291.0), (20, 292.0))
        first, last = air_then(warm, damp, True), air_then(warm, damp, False)
        assert first is not None
        assert last is not None
        assert (first.at, first.temperature_k, first.humidity) == (T0, 290.0, pytest.approx(0.4))
        assert (last.temperature_k, last.humidity) == (292.0, pytest.approx(0.42))
        assert first.rise_k_s == pytest.approx(1 / 600)

    def test_too_little_tells_no_trend(self) -> None:
        warm, damp = self.both((0, 290.0), (1, 295.0))
        found = air_then(warm, damp, True)
        assert found is not None
        assert found.rise_k_s == 0.0

    def test_of_several_sensors_the_middle_one(self) -> None:
        warm = [reading(T0, k, sensor=name) for name, k in (("a", 280.0), ("b", 290.0), ("c", 291.0))]
        found = air_then(warm, [reading(T0, 0.5, Quantity.RELATIVE_HUMIDITY)], False)
        assert found is not None
        assert found.temperature_k == 290.0

    @pytest.mark.parametrize("missing", [0, 1])
    def test_both_are_needed(self, missing: int) -> None:
        found = list(self.both((0, 290.0)))
        found[missing] = []
        assert air_then(*found, True) is None


def test_no_mould_no_width() -> None:
    assert moulds_across([], {}, {}, PARAMETERS) == []
