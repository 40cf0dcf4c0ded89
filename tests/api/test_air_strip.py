"""A room's air on the wall: measured solid, forecast fading, between the limits asked for."""

from __future__ import annotations

import re
import xml.etree.ElementTree as Xml
from dataclasses import replace
from datetime import timedelta

import pytest

from api.air_strip import LEAST_APART, air_strip
from api.fakes import SALTMARSH, START, FakeShop
from service.records.recipes import AirLimits
from service.room.views import AirPoint, Freshness, RoomNow
from service.units import Units


@pytest.fixture
def room(shop: FakeShop) -> RoomNow:
    return shop.board().rooms[0]


def drawing(room: RoomNow, units: Units = Units.METRIC) -> str:
    picture = air_strip(room, replace(SALTMARSH, units=units), START)
    assert picture is not None
    Xml.fromstring(str(picture))
    return str(picture)


def figures(picture: str) -> list[tuple[float, str]]:
    return [(float(y), t) for y, t in re.findall(r'class="scale" x="\d+" y="([\d.]+)">([^<]+)<', picture)]


def flat(room: RoomNow, kelvin: float, humidity: float) -> RoomNow:
    points = tuple(
        AirPoint(START - timedelta(minutes=10 * i), kelvin, humidity, 0.2) for i in range(144, -1, -1)
    )
    return replace(room, last_day=points, forecast=())


def test_two_lines_with_their_limits_and_a_fading_forecast(room: RoomNow) -> None:
    picture = drawing(room)
    assert picture.count('class="measured"') == 2
    assert picture.count('class="limit"') == 4
    assert picture.count('class="wanted"') == 2
    assert "forecast fade-0" in picture
    assert "forecast fade-4" in picture


def test_the_limits_are_the_figures(room: RoomNow) -> None:
    assert [t for _, t in figures(drawing(room))] == ["23 °C", "21 °C", "60 %", "50 %"]
    assert [t for _, t in figures(drawing(room, Units.US))][:2] == ["73 °F", "70 °F"]


def test_without_limits_least_and_most_are_told(room: RoomNow) -> None:
    picture = drawing(replace(flat(room, 290.15, 0.4), asked=None))
    assert "limit" not in picture
    assert [t for _, t in figures(picture)] == ["17 °C", "17 °C", "40 %", "40 %"]


def test_one_limit_draws_one_line(room: RoomNow) -> None:
    picture = drawing(replace(room, asked=AirLimits(highest_humidity=0.6)))
    assert picture.count('class="limit"') == 1
    assert picture.count('class="wanted"') == 1


def test_figures_never_stand_in_each_other_nor_outside(room: RoomNow) -> None:
    hot = flat(room, 330.0, 0.02)
    spots = [y for y, _ in figures(drawing(hot))]
    height = float(re.findall(r'viewBox="0 0 \d+ (\d+)"', drawing(hot))[0])
    assert spots[1] - spots[0] == pytest.approx(LEAST_APART)
    assert spots[3] - spots[2] == pytest.approx(LEAST_APART)
    assert all(8 <= y <= height for y in spots)


def test_a_gap_is_bridged_by_a_dashed_line(room: RoomNow) -> None:
    holed = tuple(p for p in room.last_day if not timedelta(hours=2) < START - p.at < timedelta(hours=5))
    assert drawing(replace(room, last_day=holed)).count('class="assumed"') == 2


def test_air_older_than_a_day_is_one_dot(room: RoomNow) -> None:
    old = tuple(replace(p, at=p.at - timedelta(days=2)) for p in room.last_day)
    assert drawing(replace(room, last_day=old, forecast=())).count(" h0.1") == 2


def test_nothing_measured_nothing_drawn(room: RoomNow) -> None:
    assert air_strip(replace(room, freshness=Freshness.NEVER), SALTMARSH, START) is None
    assert air_strip(replace(room, last_day=()), SALTMARSH, START) is None


def test_is_told_to_those_who_cannot_see_it(room: RoomNow) -> None:
    assert 'aria-label="Shell room: air over the last day and the next hours. 21.9 °C, 54 %' in drawing(room)
