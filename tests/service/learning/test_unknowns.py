"""Which unknown numbers a mould's life has, and what they add up to."""

from __future__ import annotations

import numpy as np
import pytest

from service.learning.effect import Effect, EffectKind
from service.learning.unknowns import Unknowns, unknowns_of
from tests.service.learning.scene import FACE, POCKET, a_story, start

STORY = a_story((0.0, 5.0, 12.0), 20.0, zones=(FACE, POCKET))
SHOP = len(unknowns_of(STORY).effects)


@pytest.fixture
def unknowns() -> Unknowns:
    return unknowns_of(STORY)


class TestWhichThereAre:
    def test_each_effect_the_story_names_once_and_in_one_order(self, unknowns: Unknowns) -> None:
        assert list(unknowns.effects) == sorted(set(unknowns.effects))
        assert {(effect.kind, effect.of) for effect in unknowns.effects} == {
            (EffectKind.DRAUGHT, ""),
            (EffectKind.DRAUGHT, "window"),
            (EffectKind.DRYING, ""),
            (EffectKind.DRYING, "heron prime"),
            (EffectKind.DRYING, "heron backup"),
            (EffectKind.THICKNESS, ""),
            (EffectKind.THICKNESS, "heron prime"),
            (EffectKind.THICKNESS, "heron backup"),
            (EffectKind.SOAKING, ""),
            (EffectKind.POCKET, ""),
            (EffectKind.POCKET, "round"),
        }

    def test_what_stirs_a_face_is_nobodys_question(self) -> None:
        told = a_story(zones=(FACE,))
        odd = a_story(zones=(FACE.__class__("face", FACE.shape, 0.2, POCKET.pocket),))
        assert unknowns_of(odd).effects == unknowns_of(told).effects
        assert unknowns_of(odd).stirring.sum() == 0.0

    def test_another_epoch_is_another_effect(self) -> None:
        before, after = unknowns_of(a_story()), unknowns_of(a_story(epoch=1))
        assert Effect(EffectKind.DRAUGHT, "window") in before.effects
        assert Effect(EffectKind.DRAUGHT, "window") not in after.effects
        assert Effect(EffectKind.DRAUGHT, "window", 1) in after.effects

    def test_own_ones_a_dip_a_zone_and_a_mould(self, unknowns: Unknowns) -> None:
        paces_and_coats, faces, drying_soaking_area, pockets = 2 * 3, 2, 3, 1
        assert unknowns.own.size == paces_and_coats + faces + drying_soaking_area + pockets

    def test_start_from_what_is_thought_of_the_shop(self, unknowns: Unknowns) -> None:
        mean, covariance = unknowns.start(np.arange(SHOP, dtype=float), 2.0 * np.eye(SHOP) + 1.0)
        assert mean.tolist() == [*range(SHOP), *[0.0] * unknowns.own.size]
        assert covariance[0, :SHOP].tolist() == [3.0, *[1.0] * (SHOP - 1)]
        assert covariance[SHOP:, :SHOP].any() == False  # noqa: E712
        assert np.diag(covariance)[SHOP:] == pytest.approx(unknowns.own**2)


class TestWhatTheyAddUpTo:
    def test_a_multiplier_is_the_product_of_its_effects(self, unknowns: Unknowns) -> None:
        x = np.zeros((SHOP + unknowns.own.size, 2))
        x[unknowns.effects.index(Effect(EffectKind.DRAUGHT))] = np.log([2.0, 3.0])
        x[unknowns.effects.index(Effect(EffectKind.DRAUGHT, "window"))] = np.log(5.0)
        laid = unknowns.laid(x, 0, 1)
        assert laid.transfer == pytest.approx([10.0, 15.0])
        for other in (laid.stirring, laid.sorptivity, laid.diffusivity, laid.thickness):
            assert other.tolist() == [1.0, 1.0]

    def test_prime_and_backup_dry_by_numbers_of_their_own(self, unknowns: Unknowns) -> None:
        x = np.zeros((SHOP + unknowns.own.size, 1))
        x[unknowns.effects.index(Effect(EffectKind.DRYING, "heron prime"))] = np.log(2.0)
        assert [float(unknowns.laid(x, 0, dip).diffusivity[0]) for dip in range(3)] == pytest.approx(
            [2.0, 1.0, 1.0]
        )

    def test_a_wait_has_one_pace_in_draught_and_drying(self, unknowns: Unknowns) -> None:
        both = unknowns.transfer[:, 2].astype(bool) & unknowns.diffusivity[2].astype(bool)
        (pace,) = np.flatnonzero(both[0])
        assert both[1, pace]
        assert not unknowns.transfer[:, :2, pace].any()
        assert not unknowns.diffusivity[:2, pace].any()

    def test_only_a_pocket_is_stirred(self, unknowns: Unknowns) -> None:
        face, pocket = unknowns.stirring
        assert not face.any()
        assert pocket.sum() == 3.0

    def test_areas_have_one_number_a_mould(self, unknowns: Unknowns) -> None:
        _, covariance = start(unknowns)
        assert unknowns.area.sum() == 1.0
        assert unknowns.area @ covariance @ unknowns.area == pytest.approx(0.25**2)


class TestWhatCanBear:
    def test_no_later_dip(self, unknowns: Unknowns) -> None:
        early = unknowns.bearing_on(2, (0,), area=False).any(axis=0)
        late = unknowns.bearing_on(3, (0,), area=False).any(axis=0)
        assert not (early & ~late).any()
        new = np.flatnonzero(late & ~early)
        assert set(new) == {int(np.flatnonzero(own)[-1]) for own in (unknowns.thickness[2],)} | {
            int(
                np.flatnonzero(unknowns.transfer[0, 2].astype(bool) & unknowns.diffusivity[2].astype(bool))[0]
            )
        }

    def test_no_other_zone(self, unknowns: Unknowns) -> None:
        face = unknowns.bearing_on(3, (0,), area=False).any(axis=0)
        only_pocket = unknowns.transfer[1, 0].astype(bool) & ~unknowns.transfer[0, 0].astype(bool)
        assert only_pocket.sum() == 1
        assert not face[only_pocket].any()
        assert not face[unknowns.stirring[1].astype(bool)].any()

    def test_areas_only_on_a_weight(self, unknowns: Unknowns) -> None:
        place = int(np.flatnonzero(unknowns.area)[0])
        assert not unknowns.bearing_on(3, (0, 1), area=False)[:, place].any()
        assert unknowns.bearing_on(3, (0, 1), area=True)[:, place].any()

    def test_nothing_soaks_into_a_wax(self, unknowns: Unknowns) -> None:
        first = unknowns.bearing_on(1, (0, 1), area=True).any(axis=0)
        soaking = unknowns.sorptivity[0].astype(bool)
        assert not first[soaking].any()
        assert unknowns.bearing_on(2, (0, 1), area=True).any(axis=0)[soaking].all()
