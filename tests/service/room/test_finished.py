"""Moulds that left: each worked in once, again when it says something else, and never out of readings that are gone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from service.errors import Unavailable
from service.learning.smoother import Learnt
from service.learning.smoother import assimilate as smooth
from service.reading import Quantity
from service.records.facts import (
    AnyBody,
    CheckBody,
    EndedBody,
    LearnAnewBody,
    NoteBody,
    Problem,
    ResultBody,
    SensorOnBody,
    WeightBody,
    WithdrawnBody,
)
from service.room import finished as module
from service.room import told_on
from service.room.finished import LOOKED_AGAIN
from service.room.teachings import SETTLES
from tests.service.room.cases import T0, h, minutes, reading, readings
from tests.service.room.small_shop import SmallShop
from tests.service.room.whole_shell import furnished, life

END_H = 20.0


@pytest.fixture
def small(tmp_path: Path) -> Iterator[SmallShop]:
    with SmallShop(tmp_path) as made:
        furnished(made, hours=60.0)
        yield made


@pytest.fixture
def smoothed(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The moulds that were smoothed, in order."""
    found: list[int] = []

    def counting(stories: Sequence[Any], *rest: Any) -> list[Learnt]:
        found.extend(each.mould for each in stories)
        return smooth(stories, *rest)

    monkeypatch.setattr(module, "assimilate", counting)
    return found


def gone(small: SmallShop, *said: tuple[AnyBody, float], **how: Any) -> int:
    """A mould with two coats that left after twenty hours, and what was said of it."""
    number = small.records.append_life(life(**{"dips_h": (1.0, 6.0), "end_h": END_H, **how}))[0].mould
    for body, hours in said or ((WeightBody(mass_kg=5.0), 2.0), (WeightBody(mass_kg=4.98), 5.0)):
        small.records.append(number, body, T0 + h(hours), "bench 1")
    return number


def work(small: SmallShop, for_s: float = 100.0) -> int:
    return small.keeper.learn_from_the_finished(small.clock.now(), for_s)


def newest(small: SmallShop, number: int, kind: type) -> Any:
    return [fact for fact in small.records.facts(number) if isinstance(fact.body, kind)][-1]


class TestOnce:
    def test_each_is_worked_in_once_the_oldest_first(self, small: SmallShop, smoothed: list[int]) -> None:
        first, second = gone(small), gone(small)
        assert work(small) == 2
        assert smoothed == [first, second]
        assert work(small) == 0
        small.begin()
        assert work(small) == 0

    def test_one_at_least_however_little_time_there_is(self, small: SmallShop) -> None:
        gone(small)
        gone(small)
        assert [work(small, 0.0) for _ in range(3)] == [1, 1, 0]

    def test_what_it_taught_is_there(self, small: SmallShop) -> None:
        number = gone(small)
        work(small)
        assert len(small.shop.heard(number)) == 2
        assert small.shop.learned()
        it = small.keeper.learner.teachings.lesson(number)
        assert it is not None
        assert (it.ended, it.until) == (True, T0 + h(END_H))

    def test_one_of_which_nothing_was_heard_has_numbers_all_the_same(self, small: SmallShop) -> None:
        number = gone(small, (NoteBody(text="nothing else"), 3.0))
        work(small)
        it = small.keeper.learner.teachings.lesson(number)
        assert it is not None
        assert it.site is None
        assert len(it.own) == 2
        assert small.shop.learned() == []

    @pytest.mark.parametrize("how", [{"dips_h": ()}, {"start_h": -200.0}])
    def test_never_dipped_or_never_measured_it_taught_nothing(
        self, small: SmallShop, smoothed: list[int], how: Any
    ) -> None:
        number = _bare(small, **how)
        assert work(small) == 1
        assert smoothed == []
        it = small.keeper.learner.teachings.lesson(number)
        assert it is not None
        assert (it.site, it.own) == (None, ())
        assert work(small) == 0

    def test_one_that_hangs_is_not_its_business(self, small: SmallShop, smoothed: list[int]) -> None:
        gone(small, end_h=None)
        assert work(small) == 0


class TestAgain:
    """Worked in, and then something is said."""

    def worked(self, small: SmallShop, *said: tuple[AnyBody, float]) -> int:
        number = gone(small, *said)
        work(small)
        return number

    def test_a_corrected_weight(self, small: SmallShop, smoothed: list[int]) -> None:
        number = self.worked(small)
        before = small.shop.heard(number)[1].said
        fact = newest(small, number, WeightBody)
        small.records.append(number, WeightBody(mass_kg=4.97), fact.at, "b", replaces=fact.number)
        assert work(small) == 1
        assert smoothed == [number, number]
        assert small.shop.heard(number)[1].said == pytest.approx(before - 0.01)

    def test_one_taken_back(self, small: SmallShop, smoothed: list[int]) -> None:
        number = self.worked(small)
        fact = newest(small, number, WeightBody)
        small.records.append(number, WithdrawnBody(), fact.at, "b", replaces=fact.number)
        assert work(small) == 1
        assert len(smoothed) == 2
        assert small.shop.heard(number) == []  # one weight alone says nothing

    def test_that_a_coat_shed_said_late(self, small: SmallShop, smoothed: list[int]) -> None:
        number = self.worked(small)
        body = NoteBody(problem=Problem.STUCCO_SHED)
        small.records.append(number, body, T0 + h(7), "b")
        assert work(small) == 1
        assert len(smoothed) == 2
        assert len(small.shop.heard(number)) == 3

    def test_a_remark_is_looked_at_and_changes_nothing(self, small: SmallShop, smoothed: list[int]) -> None:
        number = self.worked(small)
        small.records.append(number, NoteBody(text="hung too near the door"), T0 + h(7), "b")
        assert work(small) == 1
        assert work(small) == 0
        assert smoothed == [number]

    def test_a_result_is_not_even_looked_at(self, small: SmallShop) -> None:
        number = self.worked(small)
        small.records.append(number, ResultBody(verdict="sound"), T0 + h(40), "b")
        assert work(small) == 0

    def test_what_is_to_be_learned_anew_from_before_its_last_dip(
        self, small: SmallShop, smoothed: list[int]
    ) -> None:
        number = self.worked(small)
        small.records.append(None, LearnAnewBody(), T0 + h(7), "b")
        assert work(small) == 0
        small.records.append(None, LearnAnewBody(), T0 + h(3), "b")
        assert work(small) == 1
        assert smoothed == [number, number]

    def test_other_air(self, small: SmallShop, smoothed: list[int]) -> None:
        number = self.worked(small)
        small.keeper.past.note(1, T0)
        assert work(small) == 1
        assert smoothed == [number, number]

    def test_once_all_its_readings_are_in(self, small: SmallShop, smoothed: list[int]) -> None:
        """One that left a moment ago; the second time there is nothing else to be said."""
        now_h = (small.clock.now() - T0) / h(1)
        gone(small, end_h=now_h - 0.1)
        assert work(small) == 1
        small.clock.advance((SETTLES - minutes(6)).total_seconds() - 1)
        assert work(small) == 0
        small.clock.advance(LOOKED_AGAIN.total_seconds())
        assert work(small) == 1
        assert len(smoothed) == 1

    def test_an_end_taken_back_and_put_again(self, small: SmallShop, smoothed: list[int]) -> None:
        number = self.worked(small)
        fact = newest(small, number, EndedBody)
        small.records.append(number, WithdrawnBody(), T0 + h(21), "b", replaces=fact.number)
        assert work(small) == 0
        small.records.append(number, EndedBody(outcome="dewaxed"), T0 + h(30), "b")
        assert work(small) == 1


class TestFromWhereItHung:
    def test_what_was_known_when_it_left_stands(self, small: SmallShop, smoothed: list[int]) -> None:
        """Nothing was heard between: it is not smoothed a second time."""
        number = gone(small, end_h=None)
        small.keeper.work_out_spread(small.clock.now())
        before = small.keeper.learner.teachings.lesson(number)
        small.records.append(number, EndedBody(outcome="dewaxed"), small.clock.now(), "b")
        work(small)
        after = small.keeper.learner.teachings.lesson(number)
        assert smoothed == []
        assert before is not None
        assert after is not None
        assert after.site is not None
        assert replace(after, site=None) == replace(before, site=None, ended=True, until=small.clock.now())

    def test_a_hand_that_felt_it_last_is_worked_in(self, small: SmallShop, smoothed: list[int]) -> None:
        number = gone(small, end_h=None)
        small.keeper.work_out_spread(small.clock.now())
        small.records.append(number, CheckBody(verdict="dry"), small.clock.now(), "b")
        small.records.append(number, EndedBody(outcome="dewaxed"), small.clock.now(), "b")
        work(small)
        assert smoothed == [number]


class TestSensorsOnIt:
    def scale(self, small: SmallShop) -> int:
        small.records.hear_sensor("hanging scale", T0)
        for minute in range(0, 300, 5):
            at = T0 + h(1.5) + minutes(minute)
            small.records.add_readings([reading(at, 5.0 - minute * 1e-4, Quantity.WEIGHT, "hanging scale")])
        return gone(small, (SensorOnBody(sensor="hanging scale"), 1.2))

    def test_what_they_told_counts(self, small: SmallShop) -> None:
        number = self.scale(small)
        work(small)
        assert {each.number for each in small.shop.heard(number)} == {None}

    def test_it_survives_that_readings_are_thinned_out(
        self, small: SmallShop, smoothed: list[int], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """A remark, and even other air, makes nobody throw away what cannot be made as well again."""
        number = self.scale(small)
        work(small)
        before = small.shop.heard(number)
        monkeypatch.setattr(told_on, "told_on", lambda *_: iter(()))
        small.records.append(number, NoteBody(text="?"), T0 + h(7), "b")
        small.keeper.past.note(1, T0)
        assert work(small) == 1
        assert smoothed == [number]
        assert small.shop.heard(number) == before

    def test_but_not_a_change_of_what_it_was_made_of(
        self, small: SmallShop, smoothed: list[int], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        number = self.scale(small)
        work(small)
        monkeypatch.setattr(told_on, "told_on", lambda *_: iter(()))
        small.records.append(number, CheckBody(verdict="dry"), T0 + h(7), "b")
        work(small)
        assert smoothed == [number, number]


class TestTrouble:
    def test_one_that_cannot_be_smoothed_taught_nothing_and_is_let_be(
        self, small: SmallShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def refuse(*_: Any) -> list[Learnt]:
            raise FloatingPointError

        number = gone(small)
        monkeypatch.setattr(module, "assimilate", refuse)
        assert work(small) == 1
        assert work(small) == 0
        assert small.shop.heard(number) == []

    def test_what_cannot_be_kept_is_tried_again_after_a_while(
        self, small: SmallShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def refuse(*_: Any) -> None:
            raise Unavailable("disk_full", "The disk is full.", "Make room.")

        gone(small)
        with monkeypatch.context() as patched:
            patched.setattr(small.records, "save_taught", refuse)
            assert work(small) == 1
            assert work(small) == 0
        small.clock.advance(LOOKED_AGAIN.total_seconds())
        small.send(readings(small.clock.now(), 1 / 60))
        assert work(small) == 1
        assert small.shop.learned()


def _bare(small: SmallShop, **how: Any) -> int:
    return small.records.append_life(life(**{"dips_h": (1.0, 6.0), "end_h": END_H, **how}))[0].mould
