"""Whole moulds: hidden truths found again, and what must not happen to them."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from service.drying.zone import Limits
from service.learning.draws import drawn
from service.learning.effect import Effect, EffectKind
from service.learning.lives import Lived, play
from service.learning.noise import answer, shared, variance
from service.learning.prior import TOTAL, spread
from service.learning.site import NOTHING_HEARD, Belief, pool
from service.learning.smoother import MEMBERS, Heard, Learnt, Numbers, assimilate, learned_numbers
from service.learning.story import Evidence, FaceRead, Story, Weighed
from service.learning.unknowns import unknowns_of
from service.learning.when import forecast, quantile
from tests.service.learning.scene import (
    FACE,
    HOUR_S,
    PARAMETERS,
    POCKET,
    ROOM,
    a_story,
    a_truth,
    felt,
    read,
    redipped,
    start,
    truly,
    weighed,
)

Array = NDArray[np.float64]
FEW = 24


def learn(*stories: Story, belief: Belief = NOTHING_HEARD, members: int = FEW) -> list[Learnt]:
    return assimilate(stories, [belief] * len(stories), ROOM, PARAMETERS, members)


def told(mould: int = 1) -> Story:
    """Two coats, looked at in all ways."""
    heard = [weighed(0.1, number=1), weighed(2.0, number=2), felt(2.5, number=3), weighed(4.0, number=4)]
    heard += [redipped(5.0, number=5), weighed(5.1, number=6), read(7.0, number=7), weighed(8.0, number=8)]
    return a_story(evidence=heard, mould=mould)


def fast_mould(story: Story, draught: float = 0.5) -> Array:
    """A hidden truth that is like the plain model but for the shop's draught."""
    unknowns = unknowns_of(story)
    x = np.zeros((len(unknowns.effects) + unknowns.own.size, 1))
    x[unknowns.effects.index(Effect(EffectKind.DRAUGHT))] = draught
    return x


@cache
def fast_and_learned() -> tuple[Story, Learnt]:
    story = truly(told(), fast_mould(told()))
    return story, learn(story)[0]


def draught_of(learnt: Learnt) -> float:
    return float(np.log(learnt.numbers[0].transfer).mean())


def _likelihood(story: Story, lived: Lived) -> Array:
    """Logarithm, (members,), but for what is the same for all."""
    common = shared(story, lived.shown)
    measured = [i for i, one in enumerate(story.evidence) if isinstance(one, Weighed | FaceRead)]
    spread = common[np.ix_(measured, measured)] + np.diag([variance(story.evidence[i]) for i in measured])
    values = np.array([_measured(story.evidence[i]) for i in measured])
    off = values[:, None] - np.array([lived.shown[i].values for i in measured])
    out: Array = -0.5 * (off * np.linalg.solve(spread, off)).sum(axis=0)
    for i, (one, shown) in enumerate(zip(story.evidence, lived.shown, strict=True)):
        if said := answer(one, story, shown.coats):
            out = out + np.log([said.likelihood(float(value), float(common[i, i])) for value in shown.values])
    return out - out.max()


def _measured(evidence: Evidence) -> float:
    assert isinstance(evidence, Weighed | FaceRead)
    return evidence.mass_kg if isinstance(evidence, Weighed) else evidence.temperature_k


class TestNothingHeard:
    def test_is_the_prior_played_once(self) -> None:
        story = a_story()
        unknowns = unknowns_of(story)
        (lived,) = play([story], [unknowns], [drawn(*start(unknowns), MEMBERS)], ROOM, PARAMETERS)
        (found,) = assimilate([story], [NOTHING_HEARD], ROOM, PARAMETERS)
        assert found.now[0].saturation.tolist() == lived.now[0].saturation.tolist()
        assert found.ready_s == pytest.approx(lived.ready_s, nan_ok=True)
        assert (found.site, found.heard) == (None, ())

    def test_members_have_the_doubt_of_the_drying_model(self) -> None:
        (found,) = learn(a_story(zones=(FACE, POCKET)), members=64)
        face, pocket = found.laid
        for logs, kind in [
            (np.log(face.transfer), EffectKind.DRAUGHT),
            (np.log(face.diffusivity[1]), EffectKind.DRYING),
            (np.log(face.thickness[1]), EffectKind.THICKNESS),
            (np.log(pocket.stirring), EffectKind.POCKET),
        ]:
            assert logs.mean() == pytest.approx(0.0, abs=1e-9)
            assert logs.std() == pytest.approx(TOTAL[kind], rel=1e-6)

    def test_the_likeliest_life_is_the_plain_one(self) -> None:
        (found,) = learn(a_story(zones=(FACE, POCKET)))
        for numbers in found.numbers:
            for each in (numbers.transfer, numbers.sorptivity, numbers.diffusivity, numbers.thickness):
                assert each.tolist() == [1.0, 1.0]
            assert numbers.stirring == 1.0

    def test_what_the_shop_taught_is_all_there_is_to_know(self) -> None:
        draught = Effect(EffectKind.DRAUGHT)
        belief = Belief((draught,), np.array([0.4]), np.array([[1e-6]]))
        (found,) = learn(a_story(), belief=belief)
        assert found.numbers[0].transfer == pytest.approx(np.exp([0.4, 0.4]))
        assert np.log(found.laid[0].transfer).std() == pytest.approx(
            np.sqrt(0.35**2 - spread(draught) ** 2), rel=1e-3
        )


class TestLearnedNumbers:
    def test_are_what_would_be_found_without_evidence(self) -> None:
        belief = Belief((Effect(EffectKind.SOAKING),), np.array([-0.2]), np.array([[0.01]]))
        story = a_story(zones=(FACE, POCKET))
        (found,) = learn(story, belief=belief)
        for mine, theirs in zip(learned_numbers(story, belief), found.numbers, strict=True):
            assert isinstance(mine, Numbers)
            assert mine.sorptivity == pytest.approx(np.exp([-0.2, -0.2]))
            assert mine.sorptivity.tolist() == theirs.sorptivity.tolist()
            assert mine.transfer.tolist() == theirs.transfer.tolist()

    def test_of_a_story_that_cannot_be_are_refused(self) -> None:
        with pytest.raises(ValueError, match="a story needs a zone and a dip"):
            learned_numbers(a_story(()), NOTHING_HEARD)


class TestTruth:
    def test_a_strong_draught_is_found(self) -> None:
        _, found = fast_and_learned()
        assert 0.2 < draught_of(found) < 0.6
        assert np.log(found.laid[0].transfer).std() < 0.75 * TOTAL[EffectKind.DRAUGHT]

    def test_true_evidence_surprises_nobody(self) -> None:
        story, found = fast_and_learned()
        assert [one.evidence for one in found.heard] == list(story.evidence)
        assert not any(one.left_out for one in found.heard)
        assert max(abs(one.surprise) for one in found.heard) < 2.5

    def test_a_site_tells_the_shop_of_it(self) -> None:
        _, found = fast_and_learned()
        assert found.site
        mean, covariance = pool([found.site], 0.0).about([Effect(EffectKind.DRAUGHT)])
        assert mean[0] > 0.1
        assert covariance[0, 0] < spread(Effect(EffectKind.DRAUGHT)) ** 2
        assert dict(found.site.pieces) == {"FaceRead": 1, "Felt": 1, "Redipped": 1, "Weighed": 5}

    def test_moulds_drawn_from_the_prior_lie_as_far_off_as_is_told(self) -> None:
        stories = [told(mould) for mould in range(12)]
        truths = [a_truth(story, 100 + story.mould) for story in stories]
        seen = [truly(story, x) for story, x in zip(stories, truths, strict=True)]
        off = []
        for story, x, found in zip(stories, truths, learn(*seen, members=48), strict=True):
            face = np.log(found.laid[0].transfer)
            true = (unknowns_of(story).transfer[0, -1] @ x).item()
            off.append((true - face.mean()) / face.std())
        assert np.sqrt(np.mean(np.square(off))) < 1.4
        assert abs(np.mean(off)) < 0.7

    def test_comes_out_as_if_very_many_lives_had_been_weighed_by_the_evidence(self) -> None:
        """Importance sampling: nothing straight, nothing normal but the noise itself."""
        heard = [weighed(0.3), read(1.0), weighed(1.5), felt(1.5), felt(2.5), weighed(3.0)]
        bare = a_story((0.0,), 3.0, heard)
        story = truly(bare, fast_mould(bare))
        (found,) = learn(story, members=MEMBERS)
        unknowns = unknowns_of(story)
        x = drawn(*start(unknowns), 1500)
        (lived,) = play([story], [unknowns], [x], ROOM, PARAMETERS)
        share = np.exp(_likelihood(story, lived))
        share /= share.sum()
        assert 1.0 / (share**2).sum() > 100.0
        logs = np.log(lived.laid[0].transfer)
        spread = np.sqrt(share @ (logs - share @ logs) ** 2)
        ours = np.log(found.laid[0].transfer)
        assert ours.mean() == pytest.approx(share @ logs, abs=0.2 * spread)
        assert ours.std() == pytest.approx(spread, rel=0.2)

    @pytest.mark.parametrize("dry", [True, False])
    def test_hands_move_the_hour(self, dry: bool) -> None:
        story = a_story((0.0,), 2.5)
        hands = [felt(hour, dry) for hour in (1.8, 2.2, 2.5)]
        plain, touched = learn(story, replace(story, evidence=tuple(hands)))
        limits = Limits(0.35, float("inf"))
        before, after = (
            quantile(forecast(one.laid, 90 * HOUR_S, ROOM, PARAMETERS, limits).ready_s, 0.5)
            for one in (plain, touched)
        )
        assert before
        assert after
        assert (after < before) is dry


class TestBadReadings:
    def poisoned(self, evidence: Evidence, number: int) -> tuple[Learnt, Learnt]:
        """What comes of it with this in the place of what was truly heard; and quite without it."""
        story, _ = fast_and_learned()
        wrong = tuple(evidence if one.number == number else one for one in story.evidence)
        fewer = tuple(one for one in story.evidence if one.number != number)
        bad, without = learn(replace(story, evidence=wrong), replace(story, evidence=fewer))
        return bad, without

    def test_one_bad_weight_is_as_if_it_had_not_been(self) -> None:
        story, _ = fast_and_learned()
        true = story.evidence[3]
        assert isinstance(true, Weighed)
        bad, without = self.poisoned(replace(true, mass_kg=true.mass_kg + 1.0), 4)
        (wrong,) = [one for one in bad.heard if one.left_out]
        assert wrong.evidence.number == 4
        assert wrong.surprise > 4.0
        assert wrong.measured - wrong.expected == pytest.approx(1.0, abs=0.05)
        assert draught_of(bad) == pytest.approx(draught_of(without), abs=0.02)

    def test_one_face_much_too_warm_is_left_out(self) -> None:
        story, _ = fast_and_learned()
        true = story.evidence[6]
        assert isinstance(true, FaceRead)
        bad, without = self.poisoned(replace(true, temperature_k=true.temperature_k + 15.0), 7)
        assert [one.evidence.number for one in bad.heard if one.left_out] == [7]
        assert draught_of(bad) == pytest.approx(draught_of(without), abs=0.02)

    def test_most_of_several_are_believed(self) -> None:
        """A slow mould, which four say against one hand that has it dry at once."""
        hands = [felt(0.3, True, number=1), *(felt(4.0 + n / 10, False, number=2 + n) for n in range(4))]
        (found,) = learn(a_story((0.0,), 5.0, hands))
        assert [one.evidence.number for one in found.heard if one.left_out] == [1]
        assert draught_of(found) < -0.05

    def test_nonsense_is_played_all_the_same(self) -> None:
        """Weights that all double from hour to hour, and a frozen face: nobody goes where nothing can be worked out."""
        heard = [weighed(float(n), 2.0**n) for n in range(1, 9)] + [read(8.5, 200.0 + n) for n in range(3)]
        (found,) = learn(a_story((0.0, 5.0), 9.0, heard))
        assert np.isfinite(found.now[0].saturation).all()
        assert all(np.isfinite(one.surprise) for one in found.heard)


class TestManyReadings:
    def test_dozens_of_weights_of_one_wait_do_not_make_the_next_certain(self) -> None:
        often = [weighed(0.1 + 0.12 * n, number=n) for n in range(40)]
        story = a_story((0.0, 5.0), 5.0, often)
        (found,) = learn(truly(story, fast_mould(story)))
        assert np.log(found.laid[0].transfer).std() > 0.10
        assert np.log(found.laid[0].diffusivity[1]).std() > 0.10
        assert found.site
        _, covariance = pool([found.site], 0.0).about([Effect(EffectKind.DRAUGHT)])
        assert np.sqrt(covariance[0, 0]) > 0.12


class TestOrder:
    def test_moulds_worked_out_together_come_out_as_alone(self) -> None:
        story, alone = fast_and_learned()
        other = truly(told(2), fast_mould(told(2), -0.5))
        for found in (learn(story, other)[0], learn(other, story)[1]):
            assert draught_of(found) == pytest.approx(draught_of(alone), abs=1e-4)
            assert found.now[0].saturation == pytest.approx(alone.now[0].saturation, abs=1e-4)

    def test_the_same_story_gives_the_same_answer(self) -> None:
        story, first = fast_and_learned()
        (again,) = learn(story)
        assert again.now[0].saturation.tolist() == first.now[0].saturation.tolist()
        assert again.site
        assert first.site
        assert again.site.precision.tolist() == first.site.precision.tolist()

    def test_pieces_of_one_instant_in_any_order(self) -> None:
        one, other = read(3.0, 289.5, number=1), felt(3.0, False, number=2)
        there, back = learn(a_story(evidence=[one, other]), a_story(evidence=[other, one]))
        assert draught_of(there) == pytest.approx(draught_of(back), abs=1e-6)

    def test_no_story_no_answer(self) -> None:
        assert learn() == []

    def test_each_story_needs_its_belief(self) -> None:
        with pytest.raises(ValueError, match="zip"):
            assimilate([a_story()], [], ROOM, PARAMETERS)

    def test_one_that_cannot_be_is_refused_before_any_is_played(self) -> None:
        with pytest.raises(ValueError, match="mould 2: each dip"):
            learn(a_story(), a_story((5.0, 0.0), mould=2))

    def test_two_members_are_the_fewest(self) -> None:
        with pytest.raises(ValueError, match="at least two"):
            learn(a_story(), members=1)
        (found,) = learn(a_story((0.0,), 3.0, [weighed(1.0), weighed(3.0, 4.9)]), members=2)
        assert np.isfinite(found.now[0].saturation).all()


class TestShop:
    def test_a_new_mould_profits(self) -> None:
        stories = [truly(told(mould), fast_mould(told(mould))) for mould in range(4)]
        sites = [found.site for found in learn(*stories)]
        belief = pool([site for site in sites if site], 0.0)
        new = a_story((0.0,), 0.5, mould=9)
        (plain,), (taught,) = learn(new), learn(new, belief=belief)
        truth = fast_mould(new)
        (lived,) = play([new], [unknowns_of(new)], [truth], ROOM, PARAMETERS)
        limits = Limits(0.35, float("inf"))
        true, before, after = (
            forecast(zones, 90 * HOUR_S, ROOM, PARAMETERS, limits).ready_s
            for zones in (lived.laid, plain.laid, taught.laid)
        )
        assert abs(np.log(np.median(after) / true[0])) < 0.5 * abs(np.log(np.median(before) / true[0]))
        assert np.log(after).std() < 0.9 * np.log(before).std()

    def test_another_epoch_knows_nothing_of_it(self) -> None:
        _, found = fast_and_learned()
        assert found.site
        (draught,) = learned_numbers(a_story(epoch=1), pool([found.site], 0.0))
        assert draught.transfer.tolist() == [1.0, 1.0]


def test_heard_is_told_where_it_is_used() -> None:
    _, found = fast_and_learned()
    assert all(isinstance(one, Heard) for one in found.heard)
