"""A mould's life as a chart, and the same in words."""

from __future__ import annotations

import re
import xml.etree.ElementTree as Xml
from dataclasses import replace
from datetime import timedelta

import pytest

from api.fakes import SALTMARSH, START, FakeShop
from api.life_figure import TABLE_ROWS, life_figure, life_table, thinned
from service.room.views import Audit, DrynessPoint, FeltSurface
from tests.api.scene import HOUR, mould


@pytest.fixture
def heron(shop: FakeShop) -> Audit:
    return shop.audit(mould(shop, "Heron").id)


def points(count: int) -> tuple[DrynessPoint, ...]:
    return tuple(DrynessPoint(START + timedelta(minutes=i), 0.5, 0.05, 294.0, 0.5) for i in range(count))


def wide(audit: Audit) -> str:
    """The drawing for a wide screen."""
    return str(life_figure(audit, SALTMARSH)).partition('<svg class="chart on-narrow"')[0]


class TestThinned:
    @pytest.mark.parametrize("count", [0, 1, 2, 40, 41, 10_000])
    def test_few_enough_with_both_ends(self, count: int) -> None:
        kept = thinned(points(count), 40)
        assert len(kept) <= 41
        assert bool(kept) is bool(count)
        if count:
            assert (kept[0], kept[-1]) == (points(count)[0], points(count)[-1])

    def test_few_are_left_alone(self) -> None:
        assert thinned(points(40), 40) == list(points(40))


class TestFigure:
    def test_once_for_a_wide_screen_and_once_for_a_phone(self, heron: Audit) -> None:
        drawn = Xml.fromstring(f"<div>{life_figure(heron, SALTMARSH)}</div>")
        assert [svg.get("class") for svg in drawn] == ["chart on-wide", "chart on-narrow"]
        labels = {svg.get("aria-label") for svg in drawn}
        assert labels == {"Heron: how dry its coats and its shell were, and the air, from the first dip on"}

    def test_its_panels_and_the_dips(self, heron: Audit) -> None:
        names = re.findall(r'class="scale-name"[^>]*>([^<]+)<', wide(heron))
        assert names == ["coats", "newest", "shell", "air", "humidity"]
        assert wide(heron).count('class="mark"') == 4
        assert "ready for the next coat" in wide(heron)
        assert "dry for dewax" in wide(heron)

    def test_face_and_wet_bulb_are_told_apart_without_colour(self, heron: Audit) -> None:
        picture = wide(heron)
        assert 'class="assumed face"' in picture
        assert 'class="wet-bulb"' in picture
        assert {"face", "wet bulb"} <= set(re.findall(r'class="line-name"[^>]*>([^<]+)<', picture))

    def test_a_measured_face_is_solid_and_named_by_its_sensor(self, heron: Audit) -> None:
        felt = FeltSurface("back of heron", ((START - HOUR, 289.0), (START - HOUR + HOUR / 6, 289.5)))
        picture = wide(replace(heron, surfaces=(felt,)))
        assert picture.count('class="measured felt"') == 1
        assert ">back of heron<" in picture

    def test_without_measured_air_every_line_is_dashed(self, heron: Audit) -> None:
        blind = tuple(replace(p, temperature_k=None, humidity=None, wet_bulb_k=None) for p in heron.chart)
        picture = wide(replace(heron, chart=blind))
        assert 'class="measured"' not in picture
        assert 'class="assumed"' in picture
        assert picture.count('class="scale-name"') == 3
        assert "°C" not in picture

    def test_a_hole_in_the_air_is_dashed_but_no_wet_bulb_is_made_up(self, heron: Audit) -> None:
        picture = wide(heron)
        assert picture.count('class="assumed"') == 4
        assert picture.count('class="wet-bulb"') == 2

    @pytest.mark.parametrize("count", [0, 1])
    def test_none_before_there_is_something(self, heron: Audit, count: int) -> None:
        assert life_figure(replace(heron, chart=points(count)), SALTMARSH) is None

    def test_a_first_minute_has_an_axis(self, heron: Audit) -> None:
        assert not re.search(r"\bnan|\binf\b", wide(replace(heron, chart=points(2))))


class TestTable:
    def test_the_same_in_words(self, heron: Audit) -> None:
        rows = life_table(heron, SALTMARSH)
        assert 2 <= len(rows) <= TABLE_ROWS + 1
        assert rows[0][:3] == ("10 Dec 20:00", "100 %", "17.0 %")
        assert len(rows[-1][1].split(", ")) == 4
        assert rows[-1][3].endswith("°C")

    def test_what_was_not_measured_says_so(self) -> None:
        blind = DrynessPoint(START, 0.5, 0.05, None, None, 290.0, None, (0.5,))
        audit = FakeShop.saltmarsh().audit(1)
        row = life_table(replace(audit, chart=(blind,)), SALTMARSH)[0]
        assert row[3:] == ("no reading", "no reading", "16.9 °C", "no reading")
