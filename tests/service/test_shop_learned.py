"""From weighings of a mould to what the shop says it learned, and where that is learned anew."""

from __future__ import annotations

import math
from collections.abc import Iterator

import pytest

from service.learning.effect import EffectKind
from service.learning.prior import NAMED, SHOP
from service.room.learned_views import HeardKind, LearnedEffect
from service.shop import Shop
from tests.service.room.small_shop import SmallShop

TENTH = 1.2816


@pytest.fixture(scope="module")
def weighed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SmallShop]:
    """Heron with a coat on, weighed three times while it dried; the third can be of no heron."""
    with SmallShop(tmp_path_factory.mktemp("shop")) as small:
        small.furnish(hours_of_air=2)
        small.hang()
        small.dip()
        for mass_kg in (9.20, 9.14, 12.9):
            small.let_pass(0.5)
            small.shop.weigh(1, mass_kg, "bench 1", next(small.keys))
        small.keeper.work_out_spread(small.clock.now())
        yield small


@pytest.fixture
def shop(weighed: SmallShop) -> Shop:
    return weighed.shop


def about(shop: Shop, kind: EffectKind) -> dict[str, LearnedEffect]:
    return {effect.of: effect for effect in shop.learned() if effect.kind is kind}


def test_each_weighing_says_what_it_is_held_against(shop: Shop) -> None:
    first, second, third = shop.heard(1)
    assert {each.kind for each in shop.heard(1)} == {HeardKind.WEIGHT}
    assert (first.against_at, second.against_at) == (second.at, first.at)
    assert second.said == pytest.approx(-0.06)
    assert third.left_out
    assert third.against_at == second.at
    assert third.said == pytest.approx(3.76)


def test_it_is_the_same_read_back_from_the_records(weighed: SmallShop) -> None:
    before = weighed.shop.heard(1)
    weighed.begin()
    assert weighed.shop.heard(1) == before


def test_of_a_place_it_is_what_the_shop_and_the_place_make_together(shop: Shop) -> None:
    found = about(shop, EffectKind.DRAUGHT)
    whole, place = found[""], found["1/"]
    spread = math.hypot(SHOP[EffectKind.DRAUGHT], NAMED[EffectKind.DRAUGHT])
    assert whole.at_first_high == pytest.approx(math.exp(TENTH * SHOP[EffectKind.DRAUGHT]), rel=1e-3)
    assert place.at_first_high == pytest.approx(math.exp(TENTH * spread), rel=1e-3)
    assert place.high / place.low < place.at_first_high / place.at_first_low
    assert abs(math.log(place.likely)) > abs(math.log(whole.likely))
    assert (place.mould_ids, place.moulds) == ((1,), 1)


def test_learned_anew_nothing_of_before_counts(weighed: SmallShop) -> None:
    shop = weighed.shop
    before = about(shop, EffectKind.DRAUGHT)["1/"]
    fact = shop.learn_anew("draught", "1/", "the fan was moved", "bench 1", next(weighed.keys))
    anew = about(shop, EffectKind.DRAUGHT)["1/"]
    assert anew.learned_anew_at == fact.at
    assert (anew.pieces, anew.mould_ids) == ((), ())
    assert anew.high / anew.low > before.high / before.low
    shop.withdraw(fact.number, "bench 1", next(weighed.keys))
    assert about(shop, EffectKind.DRAUGHT)["1/"] == before
