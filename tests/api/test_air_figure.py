"""A room's air over days: gaps are gaps, and what is wanted is drawn."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

import pytest

from api.air_figure import air_figure, air_table, days_of, wanted_by
from api.charts import Band
from api.fakes import SALTMARSH, START, FakeShop
from service.errors import BadInput
from service.records.recipes import AirLimits, Recipe
from service.room.views import AirPoint, RoomNow
from tests.api.scene import HOUR, mould


@pytest.fixture
def room(shop: FakeShop) -> RoomNow:
    return shop.board().rooms[0]


def air(shop: FakeShop, days: int) -> tuple[AirPoint, ...]:
    return shop.air_since(1, START - timedelta(days=days))


def drawn(shop: FakeShop, room: RoomNow, points: tuple[AirPoint, ...], days: int) -> str:
    figure = air_figure(room, points, wanted_by(shop.board().moulds, 1), SALTMARSH, START, days)
    return str(figure).partition('<svg class="chart on-narrow"')[0]


class TestWanted:
    def test_by_the_newest_coats_of_a_room(self, shop: FakeShop) -> None:
        prime, backup = wanted_by(shop.board().moulds, 1)
        assert prime.warm == Band("wanted by prime coats", 294.15, 296.15)
        assert prime.damp == Band("wanted by prime coats", 0.5, 0.7)
        assert backup.warm == Band("wanted by backup coats", None, None)
        assert backup.damp == Band("wanted by backup coats", 0.4, 0.6)

    def test_the_tightest_where_several_want_it(self, shop: FakeShop) -> None:
        curlew, avocet = mould(shop, "Curlew"), mould(shop, "Avocet")
        narrow = AirLimits(lowest_humidity=0.55, highest_humidity=0.8)
        other = replace(avocet, recipe=replace_air(avocet.recipe, narrow))
        (prime,) = wanted_by([curlew, other], 1)
        assert prime.damp == Band("wanted by prime coats", 0.55, 0.7)

    def test_nothing_where_only_wax_hangs(self, shop: FakeShop) -> None:
        assert wanted_by([mould(shop, "Godwit")], 1) == []
        assert wanted_by(shop.board().moulds, 99) == []


def replace_air(recipe: Recipe, limits: AirLimits) -> Recipe:
    return recipe.model_copy(update={"prime_air": limits})


class TestFigure:
    def test_lines_bands_and_a_forecast_that_fades(self, shop: FakeShop, room: RoomNow) -> None:
        picture = drawn(shop, room, air(shop, 1), 1)
        assert picture.count('class="measured"') == 2
        assert picture.count('class="wanted"') == 3
        assert picture.count("forecast fade-4") == 2
        assert picture.count("doubt fade-0") == picture.count("doubt fade-4") == 2
        assert "no reading" not in picture
        assert "Shell room: air over 1 day" in picture

    def test_the_doubt_widens_with_the_hours(self, shop: FakeShop, room: RoomNow) -> None:
        picture = drawn(shop, room, air(shop, 1), 1)
        nearest, *_, farthest = (
            _height(d) for d in re.findall(r'class="doubt fade-." d="M([^"]*) Z"', picture)[:5]
        )
        assert 0 < nearest < farthest

    def test_all_of_it_lies_within_its_panel(self, shop: FakeShop, room: RoomNow) -> None:
        wide = replace(
            room,
            forecast=tuple(
                replace(p, temperature_low_k=250.0, temperature_high_k=330.0) for p in room.forecast
            ),
        )
        spots = re.findall(r'class="doubt fade-." d="M([^"]*) Z"', drawn(shop, wide, air(shop, 1), 1))
        heights = [float(spot.split(",")[1]) for line in spots for spot in line.split(" L")]
        assert min(heights) >= 0

    def test_a_gap_is_hatched_and_nothing_bridges_it(self, shop: FakeShop, room: RoomNow) -> None:
        holed = tuple(p for p in air(shop, 1) if not START - 9 * HOUR < p.at < START - 4 * HOUR)
        picture = drawn(shop, room, holed, 1)
        assert picture.count('class="measured"') == 4
        assert 'class="assumed"' not in picture
        assert picture.count('class="no-reading"') == 2
        assert picture.count(">no reading<") == 2

    def test_what_was_before_the_first_reading_is_a_gap_too(self, shop: FakeShop, room: RoomNow) -> None:
        assert drawn(shop, room, air(shop, 1), 14).count('class="no-reading"') == 2

    @pytest.mark.parametrize("days", [1, 3, 7, 14])
    def test_no_more_points_than_can_be_seen(self, shop: FakeShop, room: RoomNow, days: int) -> None:
        picture = drawn(shop, room, air(shop, days), days)
        lines = re.findall(r'class="measured" d="([^"]*)"', picture)
        assert len(lines) == 2
        assert all(line.count(",") <= 1.3 * 900 + 2 for line in lines)

    def test_none_where_nothing_was_measured(self, shop: FakeShop, room: RoomNow) -> None:
        assert air_figure(room, (), [], SALTMARSH, START, 1) is None


def _height(outline: str) -> float:
    """How far apart its edges are where it ends."""
    spots = [spot.split(",") for spot in outline.split(" L")]
    last = max(float(x) for x, _ in spots)
    there = [float(y) for x, y in spots if float(x) == last]
    return max(there) - min(there)


class TestTable:
    def test_a_row_for_each_two_hours_of_a_day(self, shop: FakeShop) -> None:
        rows = air_table(air(shop, 1), SALTMARSH, START, 1)
        assert len(rows) == 12
        assert rows[0][0] == "10 Dec 14:20"
        assert re.fullmatch(r"[\d.]+( to [\d.]+)? °C", rows[0][1])

    def test_a_row_a_day_over_a_week(self, shop: FakeShop) -> None:
        rows = air_table(air(shop, 1)[1:], SALTMARSH, START, 7)
        assert len(rows) == 7
        assert [row[1] == "no reading" for row in rows] == [True] * 6 + [False]


@pytest.mark.parametrize("asked", [0, 2, -1, 15])
def test_other_lengths_are_not_drawn(asked: int) -> None:
    with pytest.raises(BadInput, match=f"not drawn over {asked} days"):
        days_of(asked)
