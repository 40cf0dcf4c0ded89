"""Members carried on in memory: when they are there, until when that holds, and what stays as it was told."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from service.drying.members import Advanced, MemberAir, advance_members
from service.learning.site import NOTHING_HEARD
from service.learning.smoother import Learnt, assimilate
from service.learning.story import Story
from service.room import ensembles as module
from service.room.air_book import RoomAir
from service.room.air_forecast import forecast_air
from service.room.anew import Anew
from service.room.ensembles import CLEARLY, NEAR_HOLDS_S, Ensembles
from service.room.estimate import FORECAST_HOLDS_MOST_S, FORECAST_S, NEAR_S, ZoneEstimate
from service.room.expected import Expected
from service.room.hung_in import Hung
from service.room.progress import Progress
from service.room.stories import story
from tests.service.room.cases import FACE, HOLE, PARAMETERS, T0, TWO_COATS, h, mould, room_air, seconds

AIR = room_air(T0 - h(24), 24 + 60, swing_k=3.0)
MEMBERS = 16
SURE = 0.8


def at(hours: float) -> float:
    return seconds(T0 + h(hours))


def hung(p: Progress, hours: float, air: RoomAir = AIR) -> Hung:
    return Hung(p, air, forecast_air(air, at(hours), FORECAST_S).series)


def told(p: Progress, hours: float) -> Story:
    found = story(p, at(hours), Anew())
    assert found is not None
    return found


def smoothed(moulds: Sequence[Progress], hours: float) -> list[Learnt]:
    stories = [told(p, hours) for p in moulds]
    return assimilate(stories, [NOTHING_HEARD] * len(stories), AIR.series, PARAMETERS, MEMBERS)


def put(ensembles: Ensembles, *moulds: Progress, hours: float, air: RoomAir = AIR) -> None:
    of = [f"{p.mould_id}" for p in moulds]
    ensembles.put([hung(p, hours, air) for p in moulds], of, smoothed(moulds, hours), at(hours))


def plainly(at_s: float | None, p: Progress) -> tuple[ZoneEstimate, ...]:
    """A plain estimate that has the slowest place there at that instant."""
    state: Any = None
    return tuple(ZoneEstimate(state, at_s, at_s) for _ in p.body.zones)


def known(ensembles: Ensembles, p: Progress, hours: float, plain_s: float | None = None) -> Expected:
    found = ensembles.expected(p, f"{p.mould_id}", plainly(plain_s or at(999), p), SURE, at(hours))
    assert found is not None
    return found


P = mould(0, 6, zones=(FACE, HOLE))


class TestExpected:
    def test_without_a_coat_or_an_estimate_nothing_is(self) -> None:
        assert Ensembles(PARAMETERS).expected(mould(), "1", plainly(at(9), P), SURE, at(1)) is None
        assert Ensembles(PARAMETERS).expected(P, "1", (), SURE, at(7)) is None

    def test_before_it_is_worked_out_as_usual(self) -> None:
        found = known(Ensembles(PARAMETERS), P, 7, at(9))
        assert found.usual
        assert found.about_s == at(9)

    def test_a_mould_is_as_ready_as_its_slowest_place(self) -> None:
        both, cup = Ensembles(PARAMETERS), Ensembles(PARAMETERS)
        put(both, P, hours=7)
        alone = mould(0, 6, zones=(HOLE,))
        put(cup, alone, hours=7)
        one, other = known(both, P, 7), known(cup, alone, 7)
        assert one.about_s is not None
        assert other.about_s is not None
        assert one.about_s == pytest.approx(other.about_s, abs=0.1 * (other.about_s - at(6)))

    def test_of_other_coats_nothing_is_answered(self) -> None:
        ensembles = Ensembles(PARAMETERS)
        put(ensembles, P, hours=7)
        later = ensembles.expected(P, "another dip", plainly(at(9), P), SURE, at(7))
        assert later is not None
        assert later.usual

    def test_where_air_was_assumed_it_is_less_sure(self) -> None:
        p = mould(0)
        sure, unsure = Ensembles(PARAMETERS), Ensembles(PARAMETERS)
        put(sure, p, hours=1.5)
        put(unsure, p, hours=1.5, air=room_air(T0 - h(24), 24 + 60, swing_k=3.0, gaps=[(24, 25)]))
        spans = [
            (found.late_s or 0) - (found.early_s or 0)
            for found in (known(sure, p, 1.5), known(unsure, p, 1.5))
        ]
        assert spans[1] > 1.2 * spans[0]

    def test_air_that_is_not_known_either_is_each_members_own(self) -> None:
        """Warmer for those that are fast anyway, colder for the others."""
        p, base = mould(0), forecast_air(AIR, at(1), FORECAST_S).series
        learnt, spans = smoothed([p], 1), []
        shares = np.where(learnt[0].now[0].transfer > 1.0, 1.0, -1.0)[:, None]
        doubted = MemberAir(base, np.array([at(1), at(99)]), np.full((1, 2), 6.0), np.zeros((1, 2)), shares)
        for to_come in (base, doubted):
            ensembles = Ensembles(PARAMETERS)
            ensembles.put([Hung(p, AIR, to_come)], ["1"], learnt, at(1))
            found = known(ensembles, p, 1)
            spans.append((found.late_s or 0) - (found.early_s or 0))
        assert spans[1] > 1.1 * spans[0]


class TestAlongWithThePlainEstimate:
    """Until members are worked on anew they move as it does."""

    def moved(self, first_s: float | None, then_s: float | None) -> float:
        ensembles = Ensembles(PARAMETERS)
        put(ensembles, P, hours=7)
        before = ensembles.expected(P, "1", plainly(first_s, P), SURE, at(7))
        after = ensembles.expected(P, "1", plainly(then_s, P), SURE, at(7))
        assert before is not None
        assert after is not None
        assert before.about_s is not None
        assert after.about_s is not None
        return after.about_s - before.about_s

    def test_later_as_it_is_later(self) -> None:
        assert self.moved(at(9), at(9.5)) == pytest.approx(1800)

    def test_earlier_as_it_is_earlier(self) -> None:
        assert self.moved(at(9.5), at(9.25)) == pytest.approx(-900)

    def test_once_it_was_there_no_more(self) -> None:
        assert self.moved(at(6.9), at(7.1)) == 0.0

    def test_where_it_sees_none_they_stay(self) -> None:
        assert self.moved(at(9), None) == 0.0
        assert self.moved(None, at(9)) == 0.0


class TestDue:
    """Times of ten members, one an hour from the first hour on; sure at 80 %: after eight and a half hours."""

    TIMES = at(0) + 3600.0 * np.arange(1.0, 11.0)

    def ensembles(self, times_s: Any = None) -> Ensembles:
        made = Ensembles(PARAMETERS)
        self.set(made, self.TIMES if times_s is None else times_s)
        return made

    def set(self, ensembles: Ensembles, times_s: Any) -> None:
        ensembles.restore(1, {"known": {"of": "1", "times_s": list(times_s), "made_s": at(0)}})

    def sure_h(self, ensembles: Ensembles, hours: float) -> float | None:
        found = known(ensembles, mould(0), hours).sure_s
        return None if found is None else (found - at(0)) / 3600

    def test_it_is_when_so_many_are_there(self) -> None:
        assert self.sure_h(self.ensembles(), 1) == pytest.approx(8.5)

    def test_once_due_it_stays_so_at_the_same_instant(self) -> None:
        made = self.ensembles()
        assert self.sure_h(made, 8.6) == pytest.approx(8.5)
        self.set(made, self.TIMES + 0.9 * 3600)  # seven of ten are there by 8.6 h
        assert self.sure_h(made, 8.95) == pytest.approx(8.5)

    def test_unless_what_is_known_says_clearly_otherwise(self) -> None:
        made = self.ensembles()
        self.sure_h(made, 8.6)
        self.set(made, self.TIMES + 2 * 3600)  # six of ten
        assert self.sure_h(made, 8.6) == pytest.approx(10.5)
        assert self.sure_h(made, 10.4) == pytest.approx(10.5)  # and is not due again before that

    @pytest.mark.parametrize(("there", "stays"), [(7, True), (6, False)])
    def test_to_the_member(self, there: int, stays: bool) -> None:
        """Ten per cent below the wanted 80 %: seven of ten are still enough."""
        assert pytest.approx(0.1) == CLEARLY
        made = self.ensembles()
        self.sure_h(made, 8.6)
        self.set(made, [*[at(1)] * there, *[at(20)] * (10 - there)])
        assert (self.sure_h(made, 8.6) == pytest.approx(8.5)) is stays

    def test_before_it_was_due_the_slightest_change_counts(self) -> None:
        made = self.ensembles()
        assert self.sure_h(made, 8.4) == pytest.approx(8.5)
        self.set(made, self.TIMES + 360)
        assert self.sure_h(made, 8.4) == pytest.approx(8.6)

    def test_other_air_alone_puts_off_no_bell(self) -> None:
        made = self.ensembles()
        self.sure_h(made, 8.6)
        made.forget(1)
        assert self.sure_h(made, 8.7) == pytest.approx(8.5)

    def test_the_next_coat_begins_anew(self) -> None:
        made = self.ensembles()
        self.sure_h(made, 8.6)
        made.restore(1, {"known": {"of": "2", "times_s": list(self.TIMES + 9e4), "made_s": at(9)}})
        found = made.expected(mould(0, 8.7), "2", plainly(at(20), mould(0)), SURE, at(9))
        assert found is not None
        assert found.sure_s == pytest.approx(at(8.5) + 9e4)

    def test_one_that_left_is_forgotten(self) -> None:
        made = self.ensembles()
        self.sure_h(made, 8.6)
        assert made.kept == {1}
        made.end(1)
        assert made.kept == set()

    def test_it_is_kept_over_a_restart(self) -> None:
        made = self.ensembles([*self.TIMES[:9], None])
        self.sure_h(made, 9.0)
        again = Ensembles(PARAMETERS)
        again.restore(1, json.loads(json.dumps(made.packed(1))))
        assert self.sure_h(again, 9.0) == self.sure_h(made, 9.0)
        again.forget(1)
        assert self.sure_h(again, 9.0) == self.sure_h(made, 9.0)  # that it rang, too

    def test_of_one_that_nothing_is_known_of_nothing_is_kept(self) -> None:
        assert Ensembles(PARAMETERS).packed(7) == {}


class Counted:
    """The real members, the calls counted by how many zones each had, and whether it looked ahead."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.calls: list[tuple[int, bool]] = []
        monkeypatch.setattr(module, "advance_members", self.advance)

    def advance(self, zones: Sequence[Any], *rest: Any) -> list[Advanced]:
        self.calls.append((len(zones), len(rest) == 5))
        return advance_members(zones, *rest)


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Counted:
    return Counted(monkeypatch)


class TestWhatIsWorkedOnWhen:
    def test_all_of_one_air_in_one_go(self, counted: Counted) -> None:
        moulds = [mould(0, 6, zones=(FACE, HOLE), mould_id=n) for n in (1, 2, 3)]
        put(Ensembles(PARAMETERS), *moulds, hours=7)
        assert counted.calls == [(6, True)]

    def test_renewed_they_are_carried_on_from_where_they_were(self, counted: Counted) -> None:
        ensembles = Ensembles(PARAMETERS)
        put(ensembles, P, hours=7)
        ensembles.renew([hung(P, 8)], ["1"], at(8))
        assert counted.calls == [(2, True), (2, False), (2, True)]

    def test_carried_on_they_are_as_smoothed_from_the_facts(self) -> None:
        """In steps of their own: within minutes of a wait of hours."""
        on, fresh = Ensembles(PARAMETERS), Ensembles(PARAMETERS)
        put(on, P, hours=6.1)
        for hours in (6.5, 7.0, 8.0, 9.0):
            on.renew([hung(P, hours)], ["1"], at(hours))
        put(fresh, P, hours=9)
        one, other = on._known[1].times_s, fresh._known[1].times_s
        assert np.sort(one) == pytest.approx(np.sort(other), abs=0.02 * (at(12) - at(6)))
        assert (on._known[1].ready_s <= at(9)).sum() == (fresh._known[1].ready_s <= at(9)).sum()

    def test_it_holds_for_a_tenth_of_what_it_foretells(self) -> None:
        ensembles = Ensembles(PARAMETERS)
        put(ensembles, P, hours=6.1)
        good_for_s = ensembles._known[1].good_for_s
        middle_s = float(np.median(ensembles._known[1].times_s)) - at(6.1)
        assert good_for_s == pytest.approx(min(max(0.1 * middle_s, 600.0), 3600.0))
        pair = [(P, "1")]
        assert ensembles.wanting(pair, at(6.1) + good_for_s - 1e-3) == []
        assert ensembles.wanting(pair, at(6.1) + good_for_s) == [P]

    @pytest.mark.parametrize(("to_come_s", "holds_s"), [(NEAR_S - 1, NEAR_HOLDS_S), (NEAR_S + 1, 600.0)])
    def test_near_the_bell_they_are_worked_on_often(self, to_come_s: float, holds_s: float) -> None:
        assert module._good_for_s(np.array([at(1), at(2) + to_come_s]), at(2)) == holds_s

    def test_those_that_are_all_there_seldom(self) -> None:
        assert module._good_for_s(np.array([at(1), at(2)]), at(2)) == FORECAST_HOLDS_MOST_S
        assert module._good_for_s(np.array([at(1), np.nan]), at(2)) == FORECAST_HOLDS_MOST_S

    def test_the_oldest_first(self) -> None:
        ensembles = Ensembles(PARAMETERS)
        other = mould(0, 6, mould_id=2)
        put(ensembles, P, hours=7)
        put(ensembles, other, hours=6.5)
        assert ensembles.wanting([(P, "1"), (other, "2")], at(20)) == [other, P]

    def test_times_alone_have_no_members_to_carry_on(self) -> None:
        ensembles = Ensembles(PARAMETERS)
        ensembles.restore(1, {"known": {"of": "1", "times_s": [at(9)], "made_s": at(7)}})
        assert ensembles.knows(P, "1")
        assert not ensembles.has_members(P, "1", at(8))
        assert ensembles.wanting([(P, "1")], at(20)) == []

    def test_nor_have_those_of_a_time_to_come_once_the_clock_is_set_back(self) -> None:
        ensembles = Ensembles(PARAMETERS)
        put(ensembles, P, hours=7)
        assert ensembles.has_members(P, "1", at(7))
        assert not ensembles.has_members(P, "1", at(6.9))
        assert not ensembles.has_members(P, "other coats", at(7))

    def test_for_dewax_the_whole_shell_counts(self) -> None:
        p = replace(P, body=P.body.model_copy(update={"recipe": TWO_COATS}))
        assert p.for_dewax
        ensembles = Ensembles(PARAMETERS)
        put(ensembles, p, hours=7)
        there = ensembles._known[1]
        assert np.nanmin(there.times_s) > at(12)  # long after its newest coat is ready
