"""The doubt before anything was learned."""

from __future__ import annotations

import numpy as np
import pytest

from service.learning.effect import Effect, EffectKind
from service.learning.prior import LEAST_OWN, NAMED, PACE, SHOP, TOTAL, own_spread, prior, spread
from service.learning.unknowns import unknowns_of
from tests.service.learning.scene import FACE, POCKET, a_story, effects, start


class TestSpreads:
    def test_are_those_of_the_drying_model(self) -> None:
        assert TOTAL == {
            EffectKind.DRAUGHT: 0.35,
            EffectKind.DRYING: 0.5,
            EffectKind.THICKNESS: 0.15,
            EffectKind.SOAKING: 0.3,
            EffectKind.POCKET: 0.4,
        }

    @pytest.mark.parametrize("zone", [0, 1])
    def test_of_a_moulds_multipliers_come_to_them(self, zone: int) -> None:
        story = a_story(zones=(FACE, POCKET))
        unknowns = unknowns_of(story)
        _, covariance = start(unknowns)
        for sums, kind in [
            (unknowns.transfer[zone], EffectKind.DRAUGHT),
            (unknowns.diffusivity, EffectKind.DRYING),
            (unknowns.thickness, EffectKind.THICKNESS),
            (unknowns.sorptivity, EffectKind.SOAKING),
            (unknowns.stirring[1:], EffectKind.POCKET),
        ]:
            assert np.sqrt(np.diag(sums @ covariance @ sums.T)) == pytest.approx(TOTAL[kind])

    @pytest.mark.parametrize("kind", EffectKind)
    def test_come_to_them_too_where_only_the_shop_is_named(self, kind: EffectKind) -> None:
        paced = PACE if kind in (EffectKind.DRAUGHT, EffectKind.DRYING) else 0.0
        own = own_spread(kind, effects(kind))
        assert own**2 + SHOP[kind] ** 2 + paced**2 == pytest.approx(TOTAL[kind] ** 2)

    def test_leave_a_mould_something_of_its_own_however_much_is_named(self) -> None:
        many = effects(EffectKind.THICKNESS, *(f"tank {n}" for n in range(9)))
        assert own_spread(EffectKind.THICKNESS, many) == LEAST_OWN

    def test_differ_between_shop_and_name(self) -> None:
        assert spread(Effect(EffectKind.POCKET)) == SHOP[EffectKind.POCKET]
        assert spread(Effect(EffectKind.POCKET, "round", 3)) == NAMED[EffectKind.POCKET]


def test_effects_are_independent_and_none_leans_either_way() -> None:
    asked = effects(EffectKind.DRYING, "heron prime", "heron backup")
    mean, covariance = prior(asked)
    assert mean.tolist() == [0.0, 0.0, 0.0]
    assert covariance.tolist() == np.diag([0.40**2, 0.27**2, 0.27**2]).tolist()
