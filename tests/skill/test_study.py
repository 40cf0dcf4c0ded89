"""A small study: shops at work keep their rules, and what their moulds teach brings the hours nearer to the truth."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from service.drying.weather import AirSeries
from service.learning.site import pool
from service.learning.smoother import assimilate
from tests.skill import __main__ as command
from tests.skill import study as studied
from tests.skill.laws import USUAL
from tests.skill.life import NOTHING_KNOWN, AtWork, Forecast, Learn, Told, Wait, by_day
from tests.skill.study import WET, Plan, Score, at_work, foretell, groups_of, score
from tests.skill.table import summary, table
from tests.skill.truth import READY

Array = NDArray[np.float64]

HOUR_S = 3600.0
LEARN_FROM = 4
SMALL = Plan(shops=3, moulds=6, learn_from=LEARN_FROM, seed=92, members=32)
"""A seed whose shops dry quickly: slow ones take the test longer, too."""


HOURS = 6.0 * np.linspace(0.8, 1.2, 21)
GUESSED = Forecast.of(HOUR_S * HOURS)


@dataclass
class Guess:
    """Instead of the service: about six hours for every coat. Keeps what it was asked, and the air it was told."""

    asked: list[Learn] = field(default_factory=list)
    air: AirSeries = field(default_factory=lambda: AirSeries.constant(293.15, 0.5, 0.5, 101325.0))

    def __call__(self, asked: Sequence[Learn], air: AirSeries) -> list[Told]:
        self.asked += asked
        self.air = air
        return [Told(one.story.dips[-1].at_s + HOUR_S * HOURS, None) for one in asked]


@cache
def guessed() -> tuple[Guess, list[tuple[AtWork, AirSeries]]]:
    guess = Guess()
    return guess, at_work(SMALL, range(SMALL.shops), guess)


def waits() -> list[Wait]:
    return [wait for work, _ in guessed()[1] for wait in work.waits]


class TestAtWork:
    def test_every_coat_but_the_last_waits(self) -> None:
        for work, _ in guessed()[1]:
            for number in range(1, SMALL.moulds + 1):
                coats = len(work.shop.mould(number).recipe.steps)
                assert [w.coat for w in work.waits if w.mould == number] == list(range(1, coats))

    def test_bells_keep_the_least_wait_and_come_after_the_last_look(self) -> None:
        """The guess rings where four of five of its hours have passed, or when somebody looked later."""
        guess_s = GUESSED.bell_s
        assert all(w.bell_s >= max(w.least_s, w.dip_s + guess_s - 1.0) for w in waits())
        assert all(w.bell_s == pytest.approx(w.dip_s + guess_s) for w in waits() if w.looks == 0)
        assert 5 < sum(w.looks == 0 for w in waits()) < len(waits())

    def test_nobody_dips_at_night(self) -> None:
        assert all(by_day(w.dip_s) == w.dip_s for w in waits())

    def test_ready_is_when_the_wettest_place_is_at_the_limit(self) -> None:
        assert waits()
        for wait in waits():
            assert np.interp(wait.ready_s, wait.time_s, wait.wettest) == pytest.approx(READY, abs=1e-6)

    def test_moulds_overlap_and_are_hung_in_order(self) -> None:
        for work, _ in guessed()[1]:
            first = [min(w.dip_s for w in work.waits if w.mould == n) for n in range(1, 7)]
            last = [max(w.dip_s for w in work.waits if w.mould == n) for n in range(1, 7)]
            assert first == sorted(first)
            assert any(later < ended for later, ended in zip(first[1:], last, strict=False))

    def test_what_is_asked_is_told_in_order(self) -> None:
        """Nothing of the future is in a story, and only every third scored mould is asked for from the prior."""
        for one in guessed()[0].asked:
            heard = [e.at_s for e in one.story.evidence]
            assert heard == sorted(heard)
            assert max([*heard, one.story.dips[-1].at_s]) <= one.story.until_s
        bare = [one for one in guessed()[0].asked if not one.story.evidence and one.belief is NOTHING_KNOWN]
        assert {one.story.mould for one in bare} == {6}

    def test_there_is_evidence_and_not_too_much(self) -> None:
        for work, _ in guessed()[1]:
            weighed = [w.looks for w in work.waits if w.mould % 2 == 0]
            assert 0.3 < np.mean(weighed) < 3.5
            assert np.mean([w.looks for w in work.waits if w.mould % 2]) < 1.0

    def test_shops_work_alike_whoever_works_beside_them(self) -> None:
        """To rounding: a group's shells are dried in one system."""
        plan = replace(SMALL, moulds=2)
        ((alone, _),) = at_work(plan, [1], Guess())
        _, (beside, _) = at_work(plan, [0, 1], Guess())
        assert [w.ready_s - w.dip_s for w in alone.waits] == pytest.approx(
            [w.ready_s - w.dip_s for w in beside.waits], abs=60.0
        )


class TestScores:
    def scores(self) -> list[Score]:
        return [score(work, air, LEARN_FROM) for work, air in guessed()[1]]

    def test_only_later_moulds_are_scored(self) -> None:
        later = sum(w.mould > LEARN_FROM for w in waits())
        assert sum(one.waits + one.never for one in self.scores()) == later

    def test_the_guess_rings_for_all_kinds_of_coats_alike(self) -> None:
        """Errors are those of six hours against the truth, worked out here anew."""
        for one, (work, _) in zip(self.scores(), guessed()[1], strict=True):
            true = [(w.ready_s - w.dip_s) / HOUR_S for w in work.waits if w.mould > LEARN_FROM]
            assert one.errors["first"] == pytest.approx(6.0 / np.array(true) - 1.0)
            early_h, late_h = GUESSED.early_s / HOUR_S, GUESSED.late_s / HOUR_S
            sides = [-1 if h < early_h else 1 if h > late_h else 0 for h in true]
            assert list(one.inside["first"]) == sides

    def test_rules_ring_no_more_wet_bells_than_the_learned_one(self) -> None:
        for one in self.scores():
            for name, limit in WET.items():
                most = one.learned.share_above(limit)
                assert one.timer[name].share_above(limit) <= most
                assert one.number[name].share_above(limit) <= most
                assert one.number[name].lost_h.mean() <= one.timer[name].lost_h.mean()

    def test_groups_are_all_shops_once(self) -> None:
        groups = groups_of(self.scores())
        assert len(groups["all"]) == 3
        assert len(groups["no mismatch"]) == 2
        assert len(groups["mismatch"]) == len(groups["diffusion"]) == 1
        assert groups["uneven"] == []

    def test_the_summary_counts_every_wait_alike(self) -> None:
        scores = self.scores()
        told = summary(scores)
        errors = np.concatenate([one.errors["last"] for one in scores])
        assert told["forecast"]["last"]["median_error"] == pytest.approx(np.median(np.abs(errors)))
        assert told["coats"] == errors.size
        sides = told["forecast"]["first"]
        assert sides["cover"] + sides["truth_earlier"] + sides["truth_later"] == pytest.approx(1.0)

    def test_the_table_names_every_group_with_shops(self) -> None:
        text = table(SMALL, self.scores(), 12.0)
        head = text.splitlines()[2]
        assert head.split() == ["all", "no", "mismatch", "mismatch", "diffusion"]
        assert "3 shops of 6 moulds, seed 92" in text


class TestCommand:
    def test_json_has_the_plan_and_every_group(
        self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        monkeypatch.setattr(studied, "foretell", lambda asked, air, **_: Guess()(asked, air))
        command.main(["--shops", "1", "--moulds", "3", "--learn-from", "2", "--seed", "3", "--json"])
        printed = capsys.readouterr()
        told = json.loads(printed.out)
        assert told["plan"]["seed"] == 3
        assert set(told["groups"]) == {"all", "no mismatch"}
        assert told["groups"]["all"]["coats"] > 0
        assert "shops 1 to 1" in printed.err


@cache
def learned() -> tuple[list[Wait], list[Forecast], list[Forecast]]:
    """The scored waits, foretold from the prior and from what the moulds before them taught: two calls in all."""
    guess, done = guessed()
    heard = (one.story for one in guess.asked if one.story.evidence)
    lasting = {(story.mould, story.dips[0].at_s): story for story in heard}
    teachers = [story for story in lasting.values() if story.mould <= LEARN_FROM]
    learnt = assimilate(
        teachers, [NOTHING_KNOWN] * len(teachers), guess.air, USUAL, SMALL.members, SMALL.turns
    )
    bare = {
        (one.story.mould, one.story.until_s): one.story for one in guess.asked if one.belief is NOTHING_KNOWN
    }
    waits, asked = [], []
    for work, _ in done:
        own = {wait.dip_s for wait in work.waits}
        sites = [each.site for story, each in zip(teachers, learnt, strict=True) if story.dips[0].at_s in own]
        for wait in work.waits:
            if wait.prior:
                waits.append(wait)
                story = bare[wait.mould, wait.dip_s]
                asked += [Learn(story, NOTHING_KNOWN), Learn(story, pool(filter(None, sites), wait.dip_s))]
    told = [Forecast.of(one.ready_s) for one in foretell(asked, guess.air, SMALL.members, SMALL.turns)]
    return waits, told[::2], told[1::2]


def errors(told: Sequence[Forecast]) -> Array:
    return np.array(
        [abs(f.middle_s - w.ready_s) / (w.ready_s - w.dip_s) for f, w in zip(told, learned()[0], strict=True)]
    )


class TestLearning:
    """What four moulds of each shop teach, on the moulds after them: by the service itself."""

    def test_the_hours_come_nearer_to_the_truth(self) -> None:
        _, before, after = learned()
        assert np.median(errors(after)) < 0.7 * np.median(errors(before))

    def test_it_grows_surer(self) -> None:
        waits, before, after = learned()
        waited = np.array([w.ready_s - w.dip_s for w in waits])
        wide, narrow = (
            np.median(np.array([f.late_s - f.early_s for f in each]) / waited) for each in (before, after)
        )
        assert narrow < 0.7 * wide

    def test_not_too_sure(self) -> None:
        """Few coats of three shops only, so loosely: 80 % are meant."""
        waits, _, after = learned()
        inside = [f.early_s <= w.ready_s <= f.late_s for f, w in zip(after, waits, strict=True)]
        assert 0.5 < np.mean(inside) < 1.0
