"""Hidden shops are drawn wider than the service thinks, alike for the same seed, and a third of them are odd."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from service.learning.effect import EffectKind
from service.learning.prior import NAMED, SHOP, TOTAL
from service.learning.story import Felt, Weighed
from tests.skill.air import LEAST_HUMIDITY, MOST_HUMIDITY, as_measured, one_after_the_other, room_air
from tests.skill.eyes import Eyes
from tests.skill.life import by_day
from tests.skill.shop import SOUND, SPLITS, UNEVEN, WIDER, Habits, Mould, Shop
from tests.skill.truth import READY, Patch

HOUR_S = 3600.0


class TestSpreads:
    def test_all_in_all_half_as_wide_again_as_the_drying_model_says(self) -> None:
        """Its section 6: 0.35, 0.5, 0.15, 0.3; of pockets it says nothing."""
        stated = {
            EffectKind.DRAUGHT: 0.35,
            EffectKind.DRYING: 0.5,
            EffectKind.THICKNESS: 0.15,
            EffectKind.SOAKING: 0.3,
        }
        for kind, spread in stated.items():
            assert SPLITS[kind].total == pytest.approx(WIDER * spread, rel=0.02)

    @pytest.mark.parametrize("kind", EffectKind)
    def test_wider_than_the_service_thinks(self, kind: EffectKind) -> None:
        assert SPLITS[kind].total > 1.4 * TOTAL[kind]
        assert np.hypot(SPLITS[kind].shop, SPLITS[kind].named) > 1.3 * np.hypot(SHOP[kind], NAMED[kind])

    def test_so_they_are_drawn(self) -> None:
        """The whole draught of 300 shops: standard deviation within 10 % (its own error is 4 %)."""
        draughts = [np.log(Shop(n, 1).mould(1).zones[0].transfer) for n in range(300)]
        split = SPLITS[EffectKind.DRAUGHT]
        assert np.std(draughts) == pytest.approx(np.sqrt(split.total**2 - split.wait**2), rel=0.1)

    def test_rougher_hands_scatter_more_and_leave_the_shop_as_it_is(self) -> None:
        made, rough = (np.log([c.thickness for c in Shop(1, 1, times).mould(1).made]) for times in (1.0, 2.0))
        common = np.log([c.thickness for c in Shop(1, 1, 0.0).mould(1).made])
        assert rough - common == pytest.approx(2.0 * (made - common))
        assert np.abs(made - common).max() > 0.01


class TestShops:
    def test_a_third_has_a_mismatch_of_three_kinds(self) -> None:
        kinds = Counter(Shop(n, 1).mismatch for n in range(27))
        assert kinds == {SOUND: 18, "diffusion": 3, "isotherm": 3, "uneven": 3}

    def test_the_same_seed_draws_the_same_shop(self) -> None:
        assert Shop(4, 1).mould(7) == Shop(4, 1).mould(7)
        assert Shop(4, 1).effects == Shop(4, 1).effects
        assert Shop(4, 1).effects != Shop(4, 2).effects
        assert Shop(4, 1).mould(7) != Shop(4, 1).mould(8)

    def test_moulds_of_one_hook_share_its_draught(self) -> None:
        moulds = [Shop(0, 1, own_times=0.0).mould(n) for n in range(1, 20)]
        draughts = {(mould.hook, round(zone.transfer, 9)) for mould in moulds for zone in mould.zones}
        assert len(draughts) == 3

    def test_uneven_zones_are_as_thick_on_the_whole(self) -> None:
        pieces = [zone.pieces for n in range(1, 9) for zone in Shop(8, 1).mould(n).zones]
        assert Shop(8, 1).mismatch == UNEVEN
        assert all(sum(p.share for p in each) == pytest.approx(1.0) for each in pieces)
        assert all(sum(p.share * p.thickness for p in each) == pytest.approx(1.0) for each in pieces)
        assert min(max(p.thickness for p in each) for each in pieces) > 1.1

    def test_every_second_mould_is_weighed(self) -> None:
        assert [Shop(0, 1).mould(n).weighed for n in (1, 2, 3, 4)] == [False, True, False, True]
        assert all(Shop(0, 1, weighed_every=1).mould(n).weighed for n in (1, 2, 3))


class TestAir:
    def test_it_swings_and_stays_within_bounds(self) -> None:
        air = room_air(np.random.default_rng(1), 0.0, 60)
        assert air.humidity.min() >= LEAST_HUMIDITY
        assert air.humidity.max() <= MOST_HUMIDITY
        assert air.humidity.std() > 0.04
        assert air.temperature_k.std() > 1.0
        assert 275.0 < air.temperature_k.min() < air.temperature_k.max() < 310.0

    def test_the_sensor_is_off_and_noisy(self) -> None:
        air = room_air(np.random.default_rng(1), 0.0, 30)
        off = as_measured(np.random.default_rng(2), air).humidity - air.humidity
        assert off.std() == pytest.approx(0.01, rel=0.1)
        assert abs(off.mean()) > 1e-3

    def test_rooms_follow_one_another(self) -> None:
        airs = [room_air(np.random.default_rng(n), n * 10 * 86400.0, 10) for n in range(2)]
        both = one_after_the_other(airs)
        assert both.at(airs[1].time_s[5:6]).humidity == pytest.approx(airs[1].humidity[5])


class TestEyes:
    def eyes(self, **habits: float) -> Eyes:
        exact = {
            "scale_kg": 0.0,
            "gun_bias_k": 0.0,
            "hand_threshold": READY,
            "hand_noise": 0.0,
            "lapse": 0.0,
            "gross": 0.0,
        }
        return Eyes(Habits(**(exact | habits)), np.random.default_rng(1))

    def zones(self, saturation: float) -> tuple[Mould, list[list[Patch]]]:
        shop = Shop(0, 1)
        mould = shop.mould(1)
        coat = mould.recipe.steps[0].coat
        full = np.full(8, saturation)
        return mould, [
            [Patch(z.shape, shop.laws, 1.0, 1.0, 0.0, 290.0, (coat,), full) for _ in z.pieces]
            for z in mould.zones
        ]

    def test_a_true_scale_tells_wax_shell_and_water(self) -> None:
        mould, zones = self.zones(0.5)
        area = sum(z.area * z.area_m2 for z in mould.zones)
        told = self.eyes().weigh(mould, zones, 3.0)
        assert told == Weighed(
            1, 3.0, pytest.approx(mould.wax_kg + area * 0.6e-3 * (1650.0 + 0.5 * 0.29 * 998.0))
        )

    @pytest.mark.parametrize(("saturation", "dry"), [(0.34, True), (0.35, True), (0.36, False)])
    def test_a_true_hand_tells_dry_at_the_limit(self, saturation: float, dry: bool) -> None:
        assert self.eyes().feel(self.zones(saturation)[1], 5.0) == Felt(1, 5.0, None, dry)

    def test_a_mistake_is_the_other_word_and_another_weight(self) -> None:
        mould, zones = self.zones(0.9)
        wrong = self.eyes(gross=1.0)
        assert wrong.feel(zones, 0.0).dry
        right_kg = self.eyes().weigh(mould, zones, 0.0).mass_kg
        assert abs(wrong.weigh(mould, zones, 0.0).mass_kg - right_kg) > 0.1
        assert wrong.read_face(zones, 300.0, 0.0).temperature_k == pytest.approx(300.0, abs=2.0)

    def test_mistakes_are_as_many_as_they_should_be(self) -> None:
        eyes = self.eyes(gross=0.02)
        zones = self.zones(0.9)[1]
        assert np.mean([eyes.feel(zones, 0.0).dry for _ in range(5000)]) == pytest.approx(0.02, abs=0.006)

    def test_a_wet_coat_sheds_and_a_dry_one_is_seldom_told_of(self) -> None:
        eyes = self.eyes()
        assert all((told := eyes.redip(0.95, 2, 1.0)) and told.shed and told.coat == 2 for _ in range(20))
        dry = [eyes.redip(0.3, 2, 1.0) for _ in range(400)]
        assert not any(told and told.shed for told in dry)
        assert 0.1 < np.mean([told is not None for told in dry]) < 0.3


class TestDays:
    @pytest.mark.parametrize(
        ("hour", "expected"),
        [(6.99, 7.0), (7.0, 7.0), (15.0, 15.0), (22.0, 22.0), (22.01, 31.0), (24.5, 31.0)],
    )
    def test_nights_are_slept(self, hour: float, expected: float) -> None:
        assert by_day(hour * HOUR_S) == pytest.approx(expected * HOUR_S)
