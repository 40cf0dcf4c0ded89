"""Charts: measured is solid, assumed is dashed, forecast fades out."""

from __future__ import annotations

import re
import xml.etree.ElementTree as Xml
from datetime import datetime, timedelta
from itertools import pairwise

import pytest

from api.charts import (
    FADES,
    LONGEST_STEP,
    Band,
    Frame,
    Line,
    Mark,
    Panel,
    Piece,
    by_flag,
    by_time,
    chart,
    gaps,
    runs,
)
from api.fakes import SALTMARSH, START
from tests.api.scene import HOUR

MINUTE = timedelta(minutes=1)


def steady(minutes: list[float], value: float = 0.5) -> list[tuple[datetime, float]]:
    return [(START + m * MINUTE, value) for m in minutes]


def frame(hours: float = 24) -> Frame:
    return Frame(START, START + hours * HOUR, 900, 100)


def panel(line: Line, **more: float) -> Panel:
    return Panel(line, lambda v: f"{v:.2f}", 0.2, **more)


class TestByTime:
    def test_one_piece_while_readings_come(self) -> None:
        assert by_time(steady([0, 10, 20])) == [Piece(steady([0, 10, 20]))]

    def test_a_gap_at_its_longest_is_still_measured(self) -> None:
        longest = LONGEST_STEP / MINUTE
        assert len(by_time(steady([0, longest]))) == 1

    def test_a_longer_one_is_bridged_as_assumed(self) -> None:
        longer = LONGEST_STEP / MINUTE + 0.1
        pieces = by_time(steady([0, longer, longer + 10]))
        assert [p.measured for p in pieces] == [True, True, False]
        assert pieces[2].points == steady([0, longer])

    def test_nothing_gives_nothing(self) -> None:
        assert by_time([]) == []


class TestGaps:
    def test_at_its_longest_a_step_is_none(self) -> None:
        longest = LONGEST_STEP / MINUTE
        points = steady([0, longest, 2 * longest + 0.1])
        end = points[-1][0]
        assert gaps(points, START, end) == [(points[1][0], end)]
        assert runs(points) == [Piece(points[:2]), Piece(points[2:])]

    def test_before_the_first_and_after_the_last(self) -> None:
        points = steady([60, 70])
        assert gaps(points, START, START + 2 * HOUR) == [
            (START, points[0][0]),
            (points[1][0], START + 2 * HOUR),
        ]

    def test_nothing_at_all_is_one(self) -> None:
        assert gaps([], START, START + HOUR) == [(START, START + HOUR)]


class TestByFlag:
    def test_measured_throughout(self) -> None:
        pieces = by_flag([(at, v, True) for at, v in steady([0, 10, 20])])
        assert pieces == [Piece(steady([0, 10, 20]), True)]

    def test_assumed_from_the_point_that_rests_on_no_air(self) -> None:
        points = [(at, v, i < 2) for i, (at, v) in enumerate(steady([0, 10, 20, 30]))]
        pieces = by_flag(points)
        assert [(len(p.points), p.measured) for p in pieces] == [(2, True), (3, False)]

    def test_pieces_join_without_a_hole(self) -> None:
        points = [(at, v, i % 2 == 0) for i, (at, v) in enumerate(steady([0, 10, 20, 30]))]
        pieces = by_flag(points)
        for before, after in pairwise(pieces):
            assert before.points[-1] == after.points[0]

    def test_unknown_values_are_bridged_by_a_dashed_line(self) -> None:
        points = [
            (at, None if i in (1, 2) else v, True) for i, (at, v) in enumerate(steady([0, 10, 20, 30, 40]))
        ]
        pieces = by_flag(points)
        assert [p.measured for p in pieces] == [False, True]
        assert pieces[0].points == steady([0, 30])

    def test_all_unknown_gives_nothing(self) -> None:
        assert by_flag([(at, None, True) for at, _ in steady([0, 10])]) == []


class TestPanel:
    def test_never_narrower_than_asked(self) -> None:
        low, high = panel(Line("", by_time(steady([0, 10])))).ends()
        assert high - low == pytest.approx(0.2)
        assert (low + high) / 2 == pytest.approx(0.5)

    def test_fixed_ends_hold(self) -> None:
        assert panel(Line("", by_time(steady([0], 0.4))), low=0.0, high=1.0).ends() == (0.0, 1.0)

    def test_an_empty_one_still_has_a_scale(self) -> None:
        low, high = panel(Line("", [])).ends()
        assert low < high

    def test_the_forecast_counts(self) -> None:
        _, high = panel(Line("", by_time(steady([0])), forecast=steady([60], 0.9))).ends()
        assert high >= 0.9


class TestChart:
    def test_is_well_formed_and_named(self) -> None:
        line = Line(
            "RH",
            by_time(steady([0, 10, 100, 110])),
            forecast=steady([120, 180, 240]),
            limit=0.4,
            limit_name="dry",
        )
        picture = str(
            chart([panel(line)], frame(), SALTMARSH, "air <today>", [Mark(START + HOUR, "1")], START)
        )
        root = Xml.fromstring(picture)
        assert root.get("aria-label") == "air <today>"
        assert picture.count('class="measured"') == 2
        assert picture.count('class="assumed"') == 1
        assert 'class="limit"' in picture
        assert 'class="mark"' in picture
        assert 'class="now-line"' in picture

    def test_the_forecast_fades_in_steps_and_joins_up(self) -> None:
        line = Line("", [], forecast=steady([i * 30.0 for i in range(48)]))
        picture = str(chart([panel(line)], frame(), SALTMARSH, "air"))
        pieces = re.findall(r'class="forecast fade-(\d)" d="M([^"]*)"', picture)
        assert [int(step) for step, _ in pieces] == list(range(FADES))
        ends = [spots.split(" L") for _, spots in pieces]
        assert all(a[-1] == b[0] for a, b in pairwise(ends))

    def test_what_lies_outside_the_frame_is_left_out(self) -> None:
        line = Line("", by_time(steady([-600, -590, 0, 10])), forecast=steady([60, 48 * 60]))
        picture = str(chart([panel(line)], frame(), SALTMARSH, "air", [Mark(START - HOUR, "early")]))
        assert "early" not in picture
        for spot in re.findall(r'class="measured" d="M([\d.-]+),', picture):
            assert float(spot) >= 76

    def test_higher_values_stand_higher(self) -> None:
        line = Line("", [Piece([(START, 0.4), (START + HOUR, 0.6)])])
        picture = str(chart([panel(line)], frame(), SALTMARSH, "air"))
        first, second = re.search(r'class="measured" d="M[\d.]+,([\d.]+) L[\d.]+,([\d.]+)"', picture).groups()  # type: ignore[union-attr]
        assert float(second) < float(first)

    @pytest.mark.parametrize("hours", [1, 12, 36, 200, 24 * 30])
    def test_hours_never_crowd(self, hours: float) -> None:
        picture = str(chart([panel(Line("", []))], frame(hours), SALTMARSH, "air"))
        spots = [float(x) for x in re.findall(r'class="hour-text" x="([\d.]+)"', picture)]
        assert all(b - a > 20 for a, b in pairwise(spots))
        assert len(spots) <= 40

    @pytest.mark.parametrize("hours", [1, 12, 36, 37, 38, 39, 200, 24 * 30])
    def test_no_hour_stands_out_at_the_right(self, hours: float) -> None:
        picture = str(chart([panel(Line("", []))], frame(hours), SALTMARSH, "air"))
        written = re.findall(r'class="hour-text" x="([\d.]+)" y="[\d.]+">([^<]+)<', picture)
        assert written
        assert all(float(x) + len(text) * 4 <= 900.1 for x, text in written)

    def test_two_panels_do_not_overlap(self) -> None:
        layout = frame()
        assert layout.top(1) >= layout.top(0) + layout.panel_height
        assert layout.height(2) > layout.top(1) + layout.panel_height

    def test_a_panel_of_two_rows_pushes_the_next_down(self) -> None:
        tall, flat = Panel(Line("a", []), str, 1.0, rows=2), panel(Line("b", []))
        picture = str(chart([tall, flat], frame(), SALTMARSH, "air"))
        tops = re.findall(r'class="axis" d="M76.0,(\d+) H896 M76.0,(\d+)', picture)
        assert tops == [("4", "218"), ("232", "332")]

    def test_a_band_open_to_one_side_has_one_edge_and_reaches_the_end(self) -> None:
        wanted = Panel(Line("", []), str, 1.0, 0.0, 1.0, bands=[Band("wanted", None, 0.6)])
        picture = str(chart([wanted], frame(), SALTMARSH, "air"))
        assert 'class="wanted" x="76.0" y="44.0" width="820.0" height="60.0"' in picture
        assert 'class="wanted-edge" d="M76.0,44.0 H896 "' in picture

    def test_the_name_of_what_has_just_begun_is_not_cut_off(self) -> None:
        begun = Line("wet bulb", [Piece([(START, 0.5), (START + HOUR / 60, 0.5)], measured=True)])
        layout = Frame(START, START + 24 * HOUR, 360, 96, left=0.0, first=30, gap=36, letter=11, narrow=True)
        picture = str(chart([panel(Line("air", []), beside=[begun])], layout, SALTMARSH, "air"))
        written = re.search(r'class="line-name" x="([\d.]+)"', picture)
        assert written
        assert float(written[1]) == len("wet bulb") * 11

    def test_a_short_gap_is_hatched_without_words(self) -> None:
        silent = [(START, START + HOUR), (START + 4 * HOUR, START + 12 * HOUR)]
        picture = str(chart([Panel(Line("", []), str, 1.0, gaps=silent)], frame(), SALTMARSH, "air"))
        assert picture.count('class="no-reading"') == 2
        assert picture.count(">no reading<") == 1

    def test_for_a_phone_the_name_stands_above_and_nothing_at_the_left(self) -> None:
        layout = Frame(START, START + 24 * HOUR, 360, 96, left=0.0, first=30, gap=36, letter=11, narrow=True)
        picture = str(chart([panel(Line("air", []))], layout, SALTMARSH, "air"))
        assert 'class="scale-name" x="0" y="24">air<' in picture
        written = re.findall(r'class="hour-text" x="([\d.]+)" y="[\d.]+">([^<]+)<', picture)
        assert all(len(t) * 5.5 <= float(x) + 0.1 and float(x) + len(t) * 5.5 <= 360.1 for x, t in written)
