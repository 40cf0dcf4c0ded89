"""What is drawn of a life: every coat, the face between wet bulb and air, and the air over days, from a real shop."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest

from service.drying.air import wet_bulb_k
from service.errors import NotFound
from service.reading import Quantity, Reading
from service.room.views import Audit
from tests.service.room.cases import T0, h
from tests.service.room.small_shop import SmallShop
from tests.service.room.whole_shell import DIPS_H, END_H, GAP_H, furnished, hang_whole

SURFACE = Quantity.SURFACE_TEMPERATURE


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SmallShop]:
    """Nine coats in air with a hole in it, and a sensor on the face of some shell, before, in and after its life."""
    with SmallShop(tmp_path_factory.mktemp("life")) as small:
        furnished(small)
        small.records.hear_sensor("face", T0)
        hours = (-2.0, 3.0, 3.1, 50.0, END_H + 5.0)
        small.records.add_readings(
            [Reading("face", SURFACE, 288.0 + i, T0 + h(hour), T0 + h(hour)) for i, hour in enumerate(hours)]
        )
        small.shop.place_sensor("face", 1)
        hang_whole(small)
        yield small


@pytest.fixture(scope="module")
def audit(small: SmallShop) -> Audit:
    return small.shop.audit(1)


def test_every_coat_from_its_dip_on(audit: Audit) -> None:
    for point in audit.chart:
        hour = (point.at - T0) / timedelta(hours=1)
        on = sum(dip <= hour for dip in audit_dips(audit))
        assert len(point.coat_saturations) in (on, on - 1)  # at a dip: just before it, and just after
        assert point.coat_saturations[-1] == pytest.approx(point.newest_saturation, abs=6e-4)
        assert all(0.0 <= each <= 1.001 for each in point.coat_saturations)
    assert len(audit.chart[-1].coat_saturations) == len(DIPS_H)


def audit_dips(audit: Audit) -> list[float]:
    return [(c.dipped_at - T0) / timedelta(hours=1) for c in audit.coats if c.dipped_at]


def test_a_dip_wets_the_coats_under_it(audit: Audit) -> None:
    dip = audit.coats[1].dipped_at
    assert dip is not None
    before = [p for p in audit.chart if p.at <= dip and len(p.coat_saturations) == 1][-1]
    after = next(p for p in audit.chart if p.at >= dip and len(p.coat_saturations) == 2)
    assert after.coat_saturations[0] > before.coat_saturations[0]


def test_the_face_lies_between_wet_bulb_and_air(audit: Audit) -> None:
    """A psychrometer's two thermometers; half a kelvin for warmth stored in the shell while the air swings."""
    later = [p for p in audit.chart if p.wet_bulb_k is not None and p.at > T0 + h(DIPS_H[0] + 1)]
    assert len(later) > 50
    for p in later:
        assert p.temperature_k is not None
        assert p.humidity is not None
        assert p.wet_bulb_k == pytest.approx(float(wet_bulb_k(p.temperature_k, p.humidity)), abs=0.1)
        assert p.surface_temperature_k is not None
        assert p.wet_bulb_k - 0.5 <= p.surface_temperature_k <= p.temperature_k + 0.5


def test_where_no_air_was_measured_there_is_no_wet_bulb(audit: Audit) -> None:
    first, last = (T0 + h(hour) for hour in GAP_H)
    inside = [p for p in audit.chart if first + timedelta(minutes=40) < p.at < last - timedelta(minutes=40)]
    assert inside
    assert all(p.wet_bulb_k is None and p.temperature_k is None for p in inside)
    assert all(p.surface_temperature_k is not None for p in inside)


def test_a_face_that_was_measured_while_it_hung_there(audit: Audit) -> None:
    (felt,) = audit.surfaces
    assert felt.sensor == "face"
    assert [value for _, value in felt.points] == [289.5, 291.0]


class TestAirSince:
    def test_over_days_with_its_gap(self, small: SmallShop) -> None:
        points = small.shop.air_since(1, T0)
        assert T0 <= points[0].at <= T0 + timedelta(minutes=20)
        first, last = (T0 + h(hour) for hour in GAP_H)
        assert not [p for p in points if first + timedelta(minutes=30) < p.at < last]
        assert len(points) == pytest.approx((110 - 6) * 6, abs=12)

    def test_before_anything_was_measured_there_is_none(self, small: SmallShop) -> None:
        assert small.shop.air_since(1, small.clock.now()) == ()
        points = small.shop.air_since(1, T0 - timedelta(days=14))
        assert points[0].at >= T0 - timedelta(hours=24)

    def test_of_no_room(self, small: SmallShop) -> None:
        with pytest.raises(NotFound):
            small.shop.air_since(9, T0)
