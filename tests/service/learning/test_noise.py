"""How far evidence may lie off a true life."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from service.learning.lives import Shown
from service.learning.noise import (
    FACE_K,
    GUN_K,
    HAND,
    HANDS_OWN,
    MODEL_HOLDS_S,
    MODEL_K,
    MODEL_SATURATION,
    MODEL_WATER_SHARE,
    SHED,
    SHED_LAPSES,
    SHED_LATER,
    TARE_KG,
    answer,
    shared,
    stretch,
    variance,
)
from service.learning.probit import NO_WORD, Answer
from service.learning.story import Evidence
from tests.service.learning.scene import HOUR_S, a_story, felt, read, redipped, weighed


def common(*evidence: Evidence, coats: tuple[int, ...] = (1, 1), lost_kg: float = 0.0) -> np.ndarray:
    shown = [Shown(np.zeros(4), n, lost_kg) for n in coats]
    return shared(a_story(evidence=evidence, changes_h=(6.0,)), shown)


class TestVariance:
    @pytest.mark.parametrize(
        ("mass_kg", "spread_kg"), [(0.4, 0.005), (2.5, 0.005), (2.6, 0.0052), (30.0, 0.06)]
    )
    def test_of_a_scale_grows_with_its_load(self, mass_kg: float, spread_kg: float) -> None:
        assert np.sqrt(variance(weighed(1.0, mass_kg))) == pytest.approx(spread_kg)

    def test_of_one_reading_of_a_face(self) -> None:
        assert variance(read(1.0)) == FACE_K**2

    def test_a_yes_or_no_says_nothing_by_itself(self) -> None:
        assert variance(felt(1.0)) == variance(redipped(5.0)) == NO_WORD


class TestAnswer:
    def test_a_hand_draws_the_line_at_the_coats_limit(self) -> None:
        story = a_story()
        assert answer(felt(1.0, dry=True), story, 1) == Answer(False, 0.35, HAND, 0.05)
        assert answer(felt(1.0, dry=False), story, 1) == Answer(True, 0.35, HAND, 0.05)

    def test_a_coat_sheds_where_it_was_clearly_wetter(self) -> None:
        assert answer(redipped(5.0, shed=True), a_story(), 1) == Answer(
            True, 0.35 + SHED_LATER, SHED, SHED_LAPSES
        )
        assert answer(redipped(5.0, shed=False), a_story(), 1) == Answer(
            False, 0.35 + SHED_LATER, SHED, SHED_LAPSES
        )

    def test_what_was_found_poor_sheds_and_what_was_found_good_holds(self) -> None:
        """Dooley & Everden, INCAST, Nov 2020, pp. 20-21: an hour between coats, and two."""
        shed, held = (answer(redipped(5.0, shed=one), a_story(), 1) for one in (True, False))
        assert shed
        assert held
        assert shed.plainly(0.85, 0.0) > 0.95
        assert held.plainly(0.35, 0.0) > 0.95

    def test_what_was_measured_is_none(self) -> None:
        assert answer(weighed(1.0), a_story(), 1) is None
        assert answer(read(1.0), a_story(), 1) is None


class TestShared:
    def test_weighings_of_one_stretch_have_one_tare(self) -> None:
        assert common(weighed(1.0), weighed(6.0)).tolist() == np.full((2, 2), TARE_KG**2).tolist()

    def test_a_change_ends_a_stretch_just_after_its_instant(self) -> None:
        story = a_story(changes_h=(6.0, 7.0))
        assert [stretch(story, hour * HOUR_S) for hour in (5.9, 6.0, 6.001, 7.0, 7.001)] == [0, 0, 1, 1, 2]
        assert common(weighed(6.0), weighed(6.001))[0, 1] == 0.0

    def test_the_model_is_off_by_a_share_of_the_water_lost(self) -> None:
        lost = common(weighed(1.0), weighed(1.0), lost_kg=0.4) - TARE_KG**2
        assert lost == pytest.approx(np.full((2, 2), (MODEL_WATER_SHARE * 0.4) ** 2), rel=1e-4)

    def test_it_stays_off_for_hours_and_not_over_a_dip(self) -> None:
        one, other = felt(0.0), felt(MODEL_HOLDS_S / HOUR_S)
        assert common(one, other)[0, 1] == pytest.approx(HANDS_OWN**2 + MODEL_SATURATION**2 / np.e)
        assert common(one, other, coats=(1, 2))[0, 1] == pytest.approx(HANDS_OWN**2)

    def test_a_gun_shows_too_much_of_every_face(self) -> None:
        found = common(read(1.0), read(1.0))
        assert found == pytest.approx(np.full((2, 2), GUN_K**2 + MODEL_K**2))

    def test_what_happens_at_a_redip_is_nobodys_hand(self) -> None:
        found = common(redipped(5.0, 1), redipped(8.0, 2), coats=(1, 2))
        assert found == pytest.approx(np.diag([MODEL_SATURATION**2] * 2))

    def test_different_kinds_have_nothing_in_common(self) -> None:
        for one, other in combinations((weighed(5.0), read(5.0), felt(5.0), redipped(5.0)), 2):
            assert common(one, other)[0, 1] == 0.0

    def test_is_a_covariance(self) -> None:
        heard = [weighed(h) for h in (1.0, 2.0, 7.0)] + [felt(7.5), read(7.6), redipped(8.0), felt(8.5)]
        found = common(*heard, coats=(1, 1, 2, 2, 2, 1, 2), lost_kg=0.3)
        assert (found == found.T).all()
        assert np.linalg.eigvalsh(found).min() > -1e-9
