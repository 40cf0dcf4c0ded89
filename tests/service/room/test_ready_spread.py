"""How sure an hour is: nine lives against hundreds drawn at random, and what is worked out when."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from service.drying.history import Life, Stretch, play_back
from service.drying.isotherm import Array
from service.drying.solver import Dried, advance
from service.drying.zone import ZoneState
from service.records.recipes import CoatKind, CoatStep, FinalDryStep, Recipe
from service.room import ready_spread
from service.room.air_book import RoomAir
from service.room.air_forecast import forecast_air
from service.room.estimate import FORECAST_HOLDS_LEAST_S, FORECAST_HOLDS_MOST_S, FORECAST_S, Estimator
from service.room.hung_in import Hung
from service.room.mould_view import due_by, mould_view
from service.room.progress import Progress, limits_after, lives
from service.room.ready_spread import TOGETHER, Margins, ReadySpread
from service.room.spread import member
from tests.service.room.cases import (
    BACKUP_STEP,
    FACE,
    HOLE,
    PARAMETERS,
    PRIME_STEP,
    T0,
    h,
    mould,
    room_air,
    room_state,
    seconds,
)

DRAWN = 150
CELLAR = room_air(T0 - h(24), 24 + 60, swing_k=3.0)
BIRD = Recipe(
    name="bird",
    title="Bird",
    steps=(*[PRIME_STEP] * 2, *[BACKUP_STEP] * 3, FinalDryStep(water_limit=0.02, least_wait_s=0.0)),
)
QUICK = Recipe(
    name="quick",
    title="Quick",
    steps=(
        CoatStep(kind=CoatKind.PRIME, tank="white", thickness_m=0.6e-3, least_wait_s=0.0),
        FinalDryStep(water_limit=0.02, least_wait_s=0.0),
    ),
)


def at(hours: float) -> float:
    return seconds(T0 + h(hours))


def hung(p: Progress, hours: float, air: RoomAir = CELLAR) -> Hung:
    return Hung(p, air, forecast_air(air, at(hours), FORECAST_S).series)


def margins_of(one: Hung, hours: float) -> Margins | None:
    spread = ReadySpread(PARAMETERS)
    spread.work_out([one], at(hours))
    return spread.margins(one.p)


def known(one: Hung, hours: float) -> Margins:
    found = margins_of(one, hours)
    assert found is not None
    return found


def ready_s(one: Hung, hours: float, points: Array) -> Array:
    """When each of these lives would be ready, by nothing but the drying itself."""
    own, p = lives(one.p, at(hours)), one.p
    numbers = [member(PARAMETERS, point) for point in points for _ in own]
    played = play_back([life for _ in points for life in own], one.air.series, numbers)
    now = [stretches[-1].dried for stretches in played]
    limits = [limits_after(p.recipe, p.coats_given)] * len(now)
    ends = [at(hours) + FORECAST_S] * len(now)
    ahead = advance([d.state for d in now], ends, one.to_come, numbers, limits, True)
    name = "dry_s" if p.for_dewax else "ready_s"
    times = [getattr(n, name) or getattr(a, name) or math.inf for n, a in zip(now, ahead, strict=True)]
    latest: Array = np.array(times).reshape(len(points), -1).max(axis=1)
    return latest


@pytest.mark.parametrize(
    ("dips", "hours"),
    [
        pytest.param((0, 6, 12, 24), 26, id="an open face and a cup, two hours after the fourth coat"),
        pytest.param((0, 6, 12, 24, 40), 41, id="the same, dried for dewax"),
    ],
)
def test_it_covers_what_lives_drawn_at_random_do(dips: Sequence[float], hours: float) -> None:
    """One in ten before the early end and one in ten after the late, within 6 points; 150 draws know that to 2.5."""
    one = hung(mould(*dips, recipe=BIRD, zones=(FACE, HOLE)), hours)
    plain_s = ready_s(one, hours, np.zeros((1, 4)))[0]
    margins = known(one, hours)
    assert margins.later_s is not None
    drawn = ready_s(one, hours, np.random.default_rng(5).standard_normal((DRAWN, 4)))
    assert np.mean(drawn < plain_s - margins.earlier_s) == pytest.approx(0.1, abs=0.06)
    assert np.mean(drawn > plain_s + margins.later_s) == pytest.approx(0.1, abs=0.06)


class TestMargins:
    def test_they_lie_on_both_sides_of_the_plain_estimate(self) -> None:
        found = known(hung(mould(0), 1), 1)
        assert found.earlier_s > 0
        assert found.later_s is not None
        assert found.later_s > found.earlier_s  # a wait is doubled as easily as it is halved

    def test_a_mould_is_as_ready_as_its_slowest_place(self) -> None:
        alone = known(hung(mould(0, zones=(HOLE,)), 1), 1)
        both = known(hung(mould(0, zones=(FACE, HOLE)), 1), 1)
        assert both.earlier_s == pytest.approx(alone.earlier_s, abs=60)
        assert both.later_s == pytest.approx(alone.later_s, abs=60)

    def test_where_air_was_assumed_they_are_wider(self) -> None:
        measured = known(hung(mould(0), 1.5), 1.5)
        gap = room_air(T0 - h(24), 24 + 60, swing_k=3.0, gaps=[(24, 25)])
        assumed = known(replace(hung(mould(0), 1.5), air=gap), 1.5)
        assert assumed.earlier_s > measured.earlier_s
        assert (assumed.later_s or 0.0) > (measured.later_s or 0.0)

    def test_all_of_it_assumed_doubles_the_doubt_of_its_logarithm(self) -> None:
        one, hours = hung(mould(0), 30), 30
        wait_s = ready_s(one, hours, np.zeros((1, 4)))[0] - at(0)
        dark = room_air(T0 - h(24), 24 + 60, swing_k=3.0, gaps=[(0, 99)])
        plain, double = known(one, hours), known(replace(one, air=dark), hours)
        for sign, narrow, wide in (
            (-1, plain.earlier_s, double.earlier_s),
            (1, plain.later_s or 0.0, double.later_s or 0.0),
        ):
            once, twice = (math.log(1 + sign * m / wait_s) for m in (narrow, wide))
            assert twice == pytest.approx(2 * once, rel=1e-6)

    def test_in_air_too_damp_for_ever_there_are_none(self) -> None:
        damp = room_air(T0 - h(24), 24 + 60, humidity=0.75)
        assert margins_of(hung(mould(0, recipe=QUICK), 1, damp), 1) is None

    def test_where_a_slow_life_never_gets_there_nothing_is_vouched_for(self) -> None:
        """The plain estimate of this cup ends within the week that is looked ahead; a thicker shell's does not."""
        cup = HOLE.model_copy(update={"depth_m": 0.12})
        one = hung(mould(*range(0, 50, 10), recipe=BIRD, zones=(cup,)), 42)
        thicker_s = ready_s(one, 42, np.array([[0, 0, 1.7, 0]]))[0]
        assert ready_s(one, 42, np.zeros((1, 4)))[0] < at(42) + FORECAST_S < thicker_s
        found = known(one, 42)
        assert found.later_s is None
        assert found.earlier_s > 0

    @pytest.mark.parametrize("high", [math.log(3 * FORECAST_S), 900.0])
    def test_an_end_beyond_the_forecast_is_none(self, monkeypatch: pytest.MonkeyPatch, high: float) -> None:
        """Nine lives far apart lead there, and as far as no calendar goes."""
        monkeypatch.setattr(ready_spread, "between", lambda waits, assumed: (float(waits.min()) - 1.0, high))
        found = known(hung(mould(0), 1), 1)
        assert found.later_s is None
        assert found.earlier_s > 0

    def test_without_a_coat_there_are_none(self) -> None:
        assert margins_of(hung(mould(), 1), 1) is None

    def test_a_dip_still_to_come_is_left_alone(self) -> None:
        assert margins_of(hung(mould(2), 1), 1) is None
        assert margins_of(hung(mould(2), 2), 2) is not None


class Counted:
    """The real solver, its calls counted by how many lives each had; it cannot work with one width."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.played: list[int] = []
        self.advanced: list[int] = []
        monkeypatch.setattr(ready_spread, "advance", self.advance)
        monkeypatch.setattr(ready_spread, "play_back", self.play_back)

    def advance(self, states: list[ZoneState], *rest: Any) -> list[Dried]:
        self.advanced.append(len(states))
        if any(state.shape.width_m == ODD.width_m for state in states):
            raise FloatingPointError
        return advance(states, *rest)

    def play_back(self, own: list[Life], *rest: Any) -> list[tuple[Stretch, ...]]:
        self.played.append(len(own))
        return play_back(own, *rest)


ODD = FACE.model_copy(update={"width_m": 0.123})


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Counted:
    return Counted(monkeypatch)


class TestWhatIsWorkedOutWhen:
    def test_all_lives_of_a_room_go_in_one_batch(self, counted: Counted) -> None:
        moulds = [mould(0, mould_id=n, zones=(FACE, HOLE)) for n in range(1, 4)]
        assert ReadySpread(PARAMETERS).work_out([hung(p, 1) for p in moulds], at(1))
        assert counted.played == [3 * 2 * 9]
        assert counted.advanced == [54, 54]

    def test_in_other_air_they_are_worked_out_by_themselves(self, counted: Counted) -> None:
        other = room_air(T0 - h(24), 24 + 60)
        both = [hung(mould(0), 1), hung(mould(0, mould_id=2), 1, other)]
        ReadySpread(PARAMETERS).work_out(both, at(1))
        assert counted.played == [9, 9]

    def test_so_many_at_once_and_the_rest_the_next_time(self, counted: Counted) -> None:
        moulds = [hung(mould(0, mould_id=n), 1) for n in range(TOGETHER + 1)]
        spread = ReadySpread(PARAMETERS)
        assert spread.work_out(moulds, at(1))
        assert spread.work_out(moulds, at(1))
        assert not spread.work_out(moulds, at(1))
        assert counted.played == [9 * TOGETHER, 9]
        assert all(spread.margins(one.p) for one in moulds)

    def test_it_holds_as_long_as_a_forecast_does_to_the_second(self, counted: Counted) -> None:
        spread, one = ReadySpread(PARAMETERS), hung(mould(0), 1)
        spread.work_out([one], at(1))
        spread.work_out([one], at(1) + FORECAST_HOLDS_LEAST_S - 1)
        assert len(counted.advanced) == 2
        assert not spread.work_out([one], at(1) + FORECAST_HOLDS_LEAST_S)  # renewed, and nothing new
        assert len(counted.advanced) == 4
        assert len(counted.played) == 2
        assert counted.played[1] == 0  # the coats before are not worked out again

    def test_what_is_ready_already_is_seldom_renewed(self, counted: Counted) -> None:
        spread, one = ReadySpread(PARAMETERS), hung(mould(0), 20)
        spread.work_out([one], at(20))
        spread.work_out([one], at(20) + FORECAST_HOLDS_MOST_S - 1)
        assert len(counted.advanced) == 2
        spread.work_out([one], at(20) + FORECAST_HOLDS_MOST_S)
        assert len(counted.advanced) == 4

    def test_a_clock_that_was_put_back_renews_it(self, counted: Counted) -> None:
        spread, one = ReadySpread(PARAMETERS), hung(mould(0), 2)
        spread.work_out([one], at(2))
        spread.work_out([one], at(1))
        assert len(counted.advanced) == 4

    def test_the_next_coat_is_not_answered_with_the_one_before(self, counted: Counted) -> None:
        spread, first, second = ReadySpread(PARAMETERS), mould(0), mould(0, 3)
        others = [hung(mould(0, mould_id=2), 3.1)]
        spread.work_out([hung(first, 3), *others], at(3))
        assert spread.margins(second) is None
        spread.work_out([hung(second, 3.1), *others], at(3.1))
        assert spread.margins(second) is not None
        assert spread.margins(first) is None
        assert counted.played == [18, 9]

    def test_renewed_it_is_as_worked_out_from_the_facts(self) -> None:
        spread, p = ReadySpread(PARAMETERS), mould(0, 6, 12, recipe=BIRD)
        spread.work_out([hung(p, 13)], at(13))
        spread.work_out([hung(p, 14)], at(14))
        assert spread.margins(p) == known(hung(p, 14), 14)

    def test_forgotten_it_starts_over(self, counted: Counted) -> None:
        spread, one = ReadySpread(PARAMETERS), hung(mould(0), 1)
        spread.work_out([one], at(1))
        assert spread.kept == {1}
        spread.forget(1)
        assert spread.margins(one.p) is None
        assert spread.kept == set()
        assert spread.work_out([one], at(1))
        assert counted.played == [9, 9]

    def test_what_is_forgotten_meanwhile_does_not_count(self, monkeypatch: pytest.MonkeyPatch) -> None:
        spread, one = ReadySpread(PARAMETERS), hung(mould(0), 1)

        def forgetting(*given: Any) -> list[Dried]:
            spread.forget(1)
            return advance(*given)

        monkeypatch.setattr(ready_spread, "advance", forgetting)
        assert not spread.work_out([one], at(1))
        monkeypatch.undo()
        assert spread.margins(one.p) is None
        assert spread.work_out([one], at(1))

    def test_hung_elsewhere_since_it_starts_over(self) -> None:
        spread, one = ReadySpread(PARAMETERS), hung(mould(0), 1)
        spread.work_out([one], at(1))
        moved = replace(one.p, rooms=(*one.p.rooms, (T0 + h(0.5), 2)))
        assert spread.margins(moved) is None

    def test_one_that_cannot_be_worked_out_stops_no_other(self, counted: Counted) -> None:
        moulds = [mould(0), mould(0, zones=(ODD,), mould_id=2), mould(0, mould_id=3)]
        spread = ReadySpread(PARAMETERS)
        assert spread.work_out([hung(p, 1) for p in moulds], at(1))
        assert [spread.margins(p) is None for p in moulds] == [False, True, False]
        counted.advanced.clear()
        spread.work_out([hung(p, 1) for p in moulds], at(1))
        assert counted.advanced == []
        later_s = at(1) + FORECAST_HOLDS_MOST_S
        assert not spread.work_out([hung(p, 2) for p in moulds], later_s)  # tried again, and nothing new


class TestOnTheBoard:
    """Held against the hour that the board shows."""

    def test_the_ends_lie_around_it_at_every_moment(self) -> None:
        p, estimator, spread = (
            mould(0, 6, recipe=BIRD, zones=(FACE, HOLE)),
            Estimator(PARAMETERS),
            ReadySpread(PARAMETERS),
        )
        shown = 0
        for hours in np.arange(6.0, 26.0, 0.5):
            now = T0 + h(float(hours))
            one = hung(p, float(hours))
            zones = estimator.look([p], CELLAR.series, one.to_come, seconds(now))[1]
            if hours in (6.5, 10.0):
                spread.work_out([one], seconds(now))
            seen = mould_view(p, zones, room_state(CELLAR), now, margins=spread.margins(p))
            due = due_by(p, zones)
            assert seen.due_at == due
            if seen.due_early_at is None or seen.due_late_at is None:
                assert (seen.due_early_at, seen.due_late_at) == (None, None)
                assert hours == 6.0 or (due is not None and due <= now)
                continue
            assert due is not None
            assert seen.due_early_at <= due <= seen.due_late_at
            shown += 1
        assert shown >= 10

    def test_the_plain_life_is_the_estimate(self) -> None:
        """What the ends are measured from is the moment that the board shows, but for the solver's own steps."""
        p = mould(0, 6, recipe=BIRD)
        one = hung(p, 7)
        found = Estimator(PARAMETERS).look([p], CELLAR.series, one.to_come, at(7))[1]
        assert ready_s(one, 7, np.zeros((1, 4)))[0] == pytest.approx(found[0].ready_s, abs=60)
