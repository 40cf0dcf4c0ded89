"""The shop is told what faces had and which sensor is on which mould: stored once, and taken back like anything."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from service.reading import Quantity, Reading
from service.records.facts import FaceBody, LearnAnewBody, SensorOnBody, live
from service.room.sensors_on import SensorOnNow
from service.shop import Shop
from tests.service.room.cases import FACE, HOLE, T0, h, minutes, refused
from tests.service.room.small_shop import SmallShop


@pytest.fixture
def small(tmp_path: Path) -> Iterator[SmallShop]:
    """With Heron and Curlew, a coat on each, and a scale and a probe that send."""
    with SmallShop(tmp_path) as made:
        made.furnish(hours_of_air=2)
        for number, name in enumerate(("Heron", "Curlew"), 1):
            made.hang(name, zones=(FACE, HOLE))
            made.dip(number)
        now = made.clock.now()
        for sensor, quantity, value in (
            ("hoist", Quantity.WEIGHT, 14.2),
            ("probe", Quantity.SURFACE_TEMPERATURE, 290.0),
        ):
            made.records.hear_sensor(sensor, now)
            made.send([Reading(sensor, quantity, value, now, now)])
        made.clock.advance(600)
        yield made


@pytest.fixture
def shop(small: SmallShop) -> Shop:
    return small.shop


def on(shop: Shop) -> list[tuple[str, str, str | None]]:
    return [(each.sensor, each.mould, each.zone) for each in shop.sensors_on()]


class TestFace:
    def test_is_kept_once(self, shop: Shop) -> None:
        fact = shop.record_face(1, 291.2, "cup", "bench 1", "a")
        assert fact.body == FaceBody(temperature_k=291.2, zone="cup")
        assert shop.record_face(1, 291.2, "cup", "bench 1", "a") == fact
        with refused("key_reused"):
            shop.record_face(1, 292.2, "cup", "bench 1", "a")

    def test_says_of_which_place(self, shop: Shop) -> None:
        with refused("zone_missing"):
            shop.record_face(1, 291.2, None, "bench 1", "a")
        with refused("zone_unknown"):
            shop.record_face(1, 291.2, "beak", "bench 1", "a")

    @pytest.mark.parametrize("kelvin", [200.0, 340.0, 500.0])
    def test_far_off_is_refused_in_words(self, shop: Shop, kelvin: float) -> None:
        with refused("face_far_off"):
            shop.record_face(1, kelvin, "cup", "bench 1", "a")

    def test_not_to_come_nor_before_the_first_dip_nor_of_a_mould_that_left(self, shop: Shop) -> None:
        with refused("face_in_future"):
            shop.record_face(1, 291.2, "cup", "bench 1", "a", T0 + h(9))
        with refused("face_before_start"):
            shop.record_face(1, 291.2, "cup", "bench 1", "a", T0 - minutes(1))
        shop.end(1, "scrapped", "", "bench 1", "end")
        with refused("mould_ended"):
            shop.record_face(1, 291.2, "cup", "bench 1", "a")

    def test_is_corrected_and_taken_back(self, shop: Shop) -> None:
        fact = shop.record_face(1, 291.2, "cup", "bench 1", "a")
        better = shop.correct(
            fact.number, FaceBody(temperature_k=292.2, zone="body"), fact.at, "bench 2", "b"
        )
        with refused("face_far_off"):
            shop.correct(better.number, FaceBody(temperature_k=330.0, zone="cup"), fact.at, "bench 2", "c")
        with refused("zone_missing"):
            shop.correct(better.number, FaceBody(temperature_k=291.0), fact.at, "bench 2", "d")
        shop.withdraw(better.number, "bench 2", "e")
        assert not [f for f in live(shop.records.facts(1)) if isinstance(f.body, FaceBody)]


class TestSensorOn:
    def test_a_scale_and_a_probe(self, small: SmallShop, shop: Shop) -> None:
        shop.put_sensor_on(1, "hoist", None, "bench 1", "a")
        shop.put_sensor_on(1, "probe", "cup", "bench 1", "b")
        now = small.clock.now()
        assert shop.sensors_on() == [
            SensorOnNow("hoist", 1, "Heron", None, now),
            SensorOnNow("probe", 1, "Heron", "cup", now),
        ]

    def test_put_elsewhere_it_comes_off_in_the_same_breath(self, small: SmallShop, shop: Shop) -> None:
        shop.put_sensor_on(1, "probe", "cup", "bench 1", "a")
        small.clock.advance(60)
        fact = shop.put_sensor_on(2, "probe", "body", "bench 2", "b")
        assert on(shop) == [("probe", "Curlew", "body")]
        off = shop.records.facts(1)[-1]
        assert off.body == SensorOnBody(sensor="probe", zone="cup", off=True)
        assert (off.at, off.hand) == (fact.at, "bench 2")
        number = shop.records.last_fact_number()
        assert shop.put_sensor_on(2, "probe", "body", "bench 2", "b") == fact
        assert shop.records.last_fact_number() == number

    def test_refused_it_stays_where_it_is(self, shop: Shop) -> None:
        shop.put_sensor_on(1, "probe", "cup", "bench 1", "a")
        with refused("zone_unknown"):
            shop.put_sensor_on(2, "probe", "beak", "bench 1", "b")
        assert on(shop) == [("probe", "Heron", "cup")]

    def test_taken_off(self, shop: Shop) -> None:
        with refused("sensor_not_on"):
            shop.put_sensor_on(1, "hoist", None, "bench 1", "a", off=True)
        shop.put_sensor_on(1, "hoist", None, "bench 1", "b")
        shop.put_sensor_on(1, "hoist", None, "bench 1", "c", off=True)
        assert on(shop) == []

    def test_taken_back_it_never_was_on(self, shop: Shop) -> None:
        fact = shop.put_sensor_on(1, "hoist", None, "bench 1", "a")
        shop.withdraw(fact.number, "bench 1", "b")
        assert on(shop) == []

    def test_corrected_to_another_place_or_time(self, small: SmallShop, shop: Shop) -> None:
        fact = shop.put_sensor_on(1, "probe", "cup", "bench 1", "a")
        earlier = fact.at - timedelta(minutes=5)
        shop.correct(fact.number, SensorOnBody(sensor="probe", zone="body"), earlier, "bench 1", "b")
        assert [(each.zone, each.since) for each in shop.sensors_on()] == [("body", earlier)]
        newest = shop.records.last_fact_number()
        with refused("sensor_corrected"):
            shop.correct(newest, SensorOnBody(sensor="hoist", zone="body"), earlier, "bench 1", "c")

    def test_a_mould_that_left_has_none(self, shop: Shop) -> None:
        shop.put_sensor_on(1, "hoist", None, "bench 1", "a")
        shop.end(1, "scrapped", "", "bench 1", "end")
        assert on(shop) == []
        with refused("mould_ended"):
            shop.put_sensor_on(1, "hoist", None, "bench 1", "b")
        shop.put_sensor_on(2, "hoist", None, "bench 1", "c")
        assert on(shop) == [("hoist", "Curlew", None)]


class TestLearnAnew:
    def test_all_of_it_is_recorded_with_who_and_why(self, shop: Shop) -> None:
        fact = shop.learn_anew("", "", "the fan was moved", "bench 1", "a")
        assert (fact.body, fact.hand) == (LearnAnewBody(text="the fan was moved"), "bench 1")
        assert shop.learn_anew("", "", "the fan was moved", "bench 1", "a") == fact
        assert shop.learned_anew() == [fact]

    def test_what_nothing_was_learned_of(self, shop: Shop) -> None:
        with refused("not_learned"):
            shop.learn_anew("draught", "9/9", "", "bench 1", "a")

    def test_taken_back_what_was_learned_counts_again(self, shop: Shop) -> None:
        fact = shop.learn_anew("", "", "", "bench 1", "a")
        shop.withdraw(fact.number, "bench 1", "b")
        assert shop.learned_anew() == []
        with refused("already_replaced"):
            shop.withdraw(fact.number, "bench 1", "c")
