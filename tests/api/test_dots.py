"""Failed and sound shells as SVG."""

from __future__ import annotations

import re
import xml.etree.ElementTree as Xml
from collections.abc import Sequence

import pytest

from api.dots import LEFT, MOST_COLUMNS, MOST_DOTS, MOST_ROWS, RIGHT, WIDTH, Axis, axis_of, dots, piles
from service.failures.views import Dot

LIST = "/failures/run-out/prime-swing"


def some(values: Sequence[float], start: int = 1) -> list[Dot]:
    return [
        Dot(start + i, f"Heron & son {start + i}", "wading bird", value) for i, value in enumerate(values)
    ]


def drawn(failed: Sequence[float], sound: Sequence[float], whole: bool = False) -> str:
    return str(
        dots(some(failed), some(sound, 1000), lambda v: f"{v:.1f} °C", "Swing: failed above", LIST, whole)
    )


class TestAxis:
    def test_both_ends_have_a_place(self) -> None:
        axis = axis_of([1.0, 5.0, 3.0], False)
        assert (axis.column(1.0), axis.column(5.0)) == (0, MOST_COLUMNS - 1)
        assert axis.left(0) == LEFT
        assert axis.left(MOST_COLUMNS) == pytest.approx(RIGHT)

    def test_all_alike_are_one_column(self) -> None:
        assert axis_of([2.0, 2.0], False) == Axis(2.0, 2.0, 1)
        assert axis_of([2.0, 2.0], False).column(2.0) == 0

    def test_counts_have_a_column_each(self) -> None:
        axis = axis_of([0.0, 3.0], True)
        assert axis.columns == 4
        assert [axis.column(v) for v in (0.0, 1.0, 2.0, 3.0)] == [0, 1, 2, 3]

    def test_counts_too_many_for_that_share(self) -> None:
        assert axis_of([0.0, 500.0], True).columns == MOST_COLUMNS

    def test_no_dot_is_lost(self) -> None:
        values = [0.1, 0.2, 0.2, 0.9, 5.0]
        assert sum(len(pile.dots) for pile in piles(some(values), axis_of(values, False))) == 5


class TestDrawing:
    def test_every_shell_is_a_dot_that_leads_to_its_record(self) -> None:
        svg = drawn([3.1, 2.9, 4.0], [1.0, 1.2, 1.4, 1.4])
        root = Xml.fromstring(svg)
        assert root.get("aria-label") == "Swing: failed above"
        links = re.findall(r'href="([^"]+)"', svg)
        assert sorted(links) == sorted(f"/mould/{n}/audit" for n in (1, 2, 3, 1000, 1001, 1002, 1003))
        assert "<title>Heron &amp; son 1: 3.1 °C, failed</title>" in svg

    def test_shape_and_side_tell_them_apart_and_not_colour_alone(self) -> None:
        svg = drawn([3.0, 4.0, 5.0], [1.0, 2.0])
        shapes = {
            side: set(re.findall(rf'class="dot {side}" d="M[\d.,-]+ ([^"]+)"', svg))
            for side in ("failed", "sound")
        }
        assert all(len(found) == 1 for found in shapes.values())
        assert shapes["failed"] != shapes["sound"]
        heights = {
            side: [float(y) for y in re.findall(rf'class="dot {side}" d="M[\d.]+,([\d.]+)', svg)][1:]
            for side in ("failed", "sound")
        }
        line = float(re.findall(r'class="dots-line" d="M[\d.]+,([\d.]+)', svg)[0])
        assert max(heights["failed"]) < line < min(heights["sound"])

    def test_the_ends_are_told_with_their_unit(self) -> None:
        svg = drawn([3.1], [1.0])
        assert ">1.0 °C</text>" in svg
        assert ">3.1 °C</text>" in svg

    def test_each_count_is_told(self) -> None:
        svg = drawn([1.0, 2.0], [0.0, 0.0, 1.0], whole=True)
        assert re.findall(r">([\d.]+) °C</text>", svg) == ["0.0", "1.0", "2.0"]

    def test_one_value_alone(self) -> None:
        assert drawn([2.0], [2.0]).count("2.0 °C</text>") == 1

    @pytest.mark.parametrize("count", [1, 5, 40, 200])
    @pytest.mark.parametrize("whole", [False, True])
    def test_all_stay_inside(self, count: int, whole: bool) -> None:
        values = [float(i % 7) for i in range(count)]
        svg = drawn(values[: count // 4 + 1], values, whole)
        height = float(Xml.fromstring(svg).get("viewBox", "").split()[3])
        spots = re.findall(r'class="dot (?:failed|sound)" d="M([\d.]+),([\d.]+)', svg)
        assert len(spots) >= 2
        for x, y in spots:
            assert 0 <= float(x) <= WIDTH
            assert 0 <= float(y) <= height

    def test_too_many_become_bars_that_lead_to_the_list(self) -> None:
        svg = drawn([3.0, 4.0], [1.0] * (MOST_ROWS + 1) + [2.0] * 5)
        assert svg.count("dots-bar sound") == 2
        assert "dots-bar failed" not in svg
        assert f'href="{LIST}"' in svg
        assert f"<title>{MOST_ROWS + 1} sound: 1.0 °C</title>" in svg

    def test_just_not_too_many_stay_dots(self) -> None:
        assert "dots-bar" not in drawn([3.0, 4.0], [1.0] * MOST_ROWS)

    def test_a_side_of_too_many_becomes_bars_however_they_spread(self) -> None:
        spread = [i / 10 for i in range(MOST_DOTS)]
        assert "dots-bar" not in drawn([3.0], spread)
        assert "dots-bar sound" in drawn([3.0], [*spread, 3.0])

    def test_two_thousand_are_no_heavy_page(self) -> None:
        assert len(drawn([i / 9 for i in range(200)], [i / 99 for i in range(1800)])) < 30_000
