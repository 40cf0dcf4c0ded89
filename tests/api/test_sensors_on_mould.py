"""Which scales and probes a mould's page offers."""

from __future__ import annotations

import pytest

from api.fakes import FakeShop
from api.sensors_on_mould import Offered, came_off, offered, worn_by
from tests.api.scene import mould


@pytest.fixture
def heron(shop: FakeShop) -> int:
    shop.show_weight("hoist", 14.2)
    shop.show_surface("probe", 290.0)
    return mould(shop, "Heron").id


def asked(shop: FakeShop, mould_id: int) -> list[Offered]:
    return offered(mould_id, shop.sensors_on(), shop.sensors())


def test_what_told_a_weight_or_a_face_and_nothing_of_the_air(shop: FakeShop, heron: int) -> None:
    assert asked(shop, heron) == [Offered("hoist", False, ""), Offered("probe", True, "")]


def test_what_is_on_it_is_not_offered_and_what_is_elsewhere_says_so(shop: FakeShop, heron: int) -> None:
    shop.put_sensor_on(heron, "probe", "outside", "", "on-key-001")
    assert asked(shop, heron) == [Offered("hoist", False, "")]
    assert [each.zone for each in worn_by(heron, shop.sensors_on())] == ["outside"]
    shop.put_sensor_on(mould(shop, "Curlew").id, "hoist", None, "", "on-key-002")
    shop.show_surface("another", 290.0)
    assert asked(shop, heron) == [Offered("another", True, ""), Offered("hoist", False, "Curlew")]


def test_put_elsewhere_it_came_off_the_first(shop: FakeShop, heron: int) -> None:
    first = shop.put_sensor_on(heron, "hoist", None, "", "on-key-001")
    assert came_off(shop, first) == ""
    curlew = mould(shop, "Curlew").id
    second = shop.put_sensor_on(curlew, "hoist", None, "", "on-key-002")
    assert came_off(shop, second) == "Heron"
    assert came_off(shop, shop.put_sensor_on(curlew, "hoist", None, "", "on-key-003", off=True)) == ""
    assert came_off(shop, shop.put_sensor_on(heron, "probe", "outside", "", "on-key-004")) == ""


def test_another_kind_of_record_came_off_nothing(shop: FakeShop, heron: int) -> None:
    assert came_off(shop, shop.note(heron, "dripping", "", "note-key-1")) == ""
