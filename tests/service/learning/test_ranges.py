"""Multipliers somebody can look at."""

from __future__ import annotations

import numpy as np
import pytest

from service.learning.effect import Effect, EffectKind
from service.learning.prior import spread
from service.learning.ranges import ranges
from service.learning.site import NOTHING_HEARD, Belief

DRAUGHT, WINDOW = Effect(EffectKind.DRAUGHT), Effect(EffectKind.DRAUGHT, "window")
LEARNED = Belief((DRAUGHT, WINDOW), np.log([1.2, 1.5]), np.array([[0.05, -0.028], [-0.028, 0.03]]))


def test_before_anything_is_learned_it_is_the_doubt_of_the_model() -> None:
    (found,) = ranges(NOTHING_HEARD, [(DRAUGHT,)])
    assert (found.likely, found.learned) == (1.0, 0.0)
    assert np.log(found.high) == pytest.approx(1.2816 * spread(DRAUGHT), rel=1e-4)
    assert found.low * found.high == pytest.approx(1.0)


def test_what_acts_together_is_told_as_its_product() -> None:
    shop, both = ranges(LEARNED, [(DRAUGHT,), (DRAUGHT, WINDOW)])
    assert shop.likely == pytest.approx(1.2)
    assert both.likely == pytest.approx(1.8)
    assert np.log(both.high / both.likely) == pytest.approx(1.2816 * np.sqrt(0.024), rel=1e-4)
    assert both.learned == pytest.approx(1.0 - 0.024 / (spread(DRAUGHT) ** 2 + spread(WINDOW) ** 2))
    assert both.learned > shop.learned
    assert both.effects == (DRAUGHT, WINDOW)


def test_an_even_narrower_share_lies_nearer() -> None:
    (most,), (half,) = ranges(LEARNED, [(DRAUGHT,)]), ranges(LEARNED, [(DRAUGHT,)], share=0.5)
    assert most.low < half.low < half.likely < half.high < most.high
    assert np.log(half.high / half.likely) == pytest.approx(0.6745 * np.sqrt(0.05), rel=1e-3)


def test_of_no_effect_is_the_plain_model() -> None:
    (found,) = ranges(LEARNED, [()])
    assert (found.low, found.likely, found.high, found.learned) == (1.0, 1.0, 1.0, 0.0)


def test_learned_is_a_share_whatever_the_numbers() -> None:
    wider = Belief((DRAUGHT,), np.zeros(1), np.array([[0.09]]))
    assert ranges(wider, [(DRAUGHT,)])[0].learned == 0.0


@pytest.mark.parametrize("share", [0.0, 1.0, -0.1, 1.1])
def test_a_share_is_a_share(share: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        ranges(LEARNED, [(DRAUGHT,)], share)
