"""The rail of hours: nothing due is ever out of sight, no label covers another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

import pytest

from api.fakes import SALTMARSH, START, FakeShop
from api.rail import (
    BOLD_LETTER_W,
    GAP_W,
    LEFT,
    LETTER_W,
    MOST_BEYOND_SHARE,
    MOST_LETTERS,
    OPEN_W,
    TALL,
    WIDE,
    Axis,
    Hung,
    Rail,
    Spread,
    lay_out,
    shortened,
    wants_a_hand,
)
from api.times import nights
from service.room.views import MouldNow, NotAtThisHumidity, Stage
from service.voice import Language, Voice, speaking
from tests.api.scene import HOUR, mould


def clock(at: datetime) -> str:
    return f"{at:%H:%M}"


@pytest.fixture
def waiting(shop: FakeShop) -> MouldNow:
    return mould(shop, "Lapwing")


def due(like: MouldNow, name: str, hours: float | None, **more: object) -> MouldNow:
    at = None if hours is None else START + hours * HOUR
    return replace(like, name=name, due_at=at, longest_wait_until=None, **more)  # type: ignore[arg-type]


def laid(moulds: Sequence[MouldNow], lanes: int = 4) -> Rail:
    return lay_out(moulds, START, SALTMARSH, clock, lanes=lanes)


def told(rail: Rail) -> int:
    """How many moulds the rail accounts for: due, labelled, counted on a label, or written beyond."""
    labelled = sum(1 + h.more for h in rail.hung if h.lane is not None)
    return len(rail.due) + labelled + len(rail.beyond)


def label_box(hung: Hung) -> tuple[float, float]:
    return hung.label_x, hung.label_x + len(f"{hung.bell.name} {hung.text}") * LETTER_W


class TestNothingIsLost:
    @pytest.mark.parametrize("count", [0, 1, 6, 14, 40])
    def test_every_mould_is_told(self, count: int) -> None:
        board = FakeShop.saltmarsh(count=count).board()
        assert told(laid(board.moulds)) == count

    def test_each_bell_has_its_mark_even_without_a_label(self) -> None:
        moulds = FakeShop.saltmarsh(count=40).board().moulds
        rail = laid(moulds)
        assert len(rail.hung) + len(rail.due) == 40
        assert any(h.lane is None for h in rail.hung)

    def test_what_wants_a_hand_is_named_at_now(self, shop: FakeShop) -> None:
        rail = laid(shop.board().moulds)
        assert rail.due == ("Godwit", "Portrait head", "Heron", "Gate panel, left")
        assert rail.due_text == "Godwit and 3 more"

    def test_two_are_both_named(self, waiting: MouldNow) -> None:
        ready = [due(waiting, name, -1, stage=Stage.READY) for name in ("Heron", "Teal")]
        assert laid(ready).due_text == "Heron, Teal"

    def test_later_than_the_rail_is_long(self, waiting: MouldNow) -> None:
        rail = laid([due(waiting, "Teal", 3), due(waiting, "Egret", 60)])
        assert [h.bell.name for h in rail.hung] == ["Teal"]
        assert rail.beyond == ("Egret 02:20",)

    def test_no_hour_at_all(self, waiting: MouldNow) -> None:
        damp = NotAtThisHumidity(0.8, 0.6, 0.5, 9000)
        rail = laid([due(waiting, "Teal", None), due(waiting, "Egret", None, never=damp)])
        assert rail.beyond == ("Teal: no hour", "Egret: too damp")

    def test_ended_moulds_hang_nowhere(self, waiting: MouldNow) -> None:
        assert told(laid([due(waiting, "Teal", 3, stage=Stage.ENDED)])) == 0

    def test_overdue_by_the_clock_but_not_by_the_estimate_hangs_at_now(self, waiting: MouldNow) -> None:
        rail = laid([due(waiting, "Teal", -5)])
        assert rail.hung[0].x == pytest.approx(rail.axis.x(rail.axis.start))


class TestLabels:
    @pytest.mark.parametrize("count", [6, 12, 14, 40])
    def test_none_covers_another(self, count: int) -> None:
        rail = laid(FakeShop.saltmarsh(count=count).board().moulds)
        for lane in range(rail.lanes):
            boxes = sorted(label_box(h) for h in rail.hung if h.lane == lane)
            for (_, right), (left, _) in pairwise(boxes):
                assert right <= left + 1

    def test_none_covers_the_names_of_what_is_due(self, shop: FakeShop) -> None:
        rail = laid(shop.board().moulds)
        right = rail.axis.x(START) + len(rail.due_text) * LETTER_W
        assert all(h.label_x >= right for h in rail.hung if h.lane == 0)

    def test_the_last_one_ends_within_the_rail(self, waiting: MouldNow) -> None:
        rail = laid([due(waiting, "A mould with a very long name", 23)])
        _, right = label_box(rail.hung[0])
        assert right <= rail.axis.width + 12

    def test_hours_and_longest_wait_where_there_is_room(self, waiting: MouldNow) -> None:
        until = START + 6 * HOUR
        rail = laid([replace(due(waiting, "Teal", 3), longest_wait_until=until)])
        assert rail.hung[0].text == "17:20"
        assert rail.hung[0].until_x == pytest.approx(rail.axis.x(until))

    def test_names_alone_where_it_is_crowded(self, waiting: MouldNow) -> None:
        moulds = [due(waiting, f"Teal {i}", 1 + i / 12) for i in range(24)]
        rail = laid(moulds)
        assert all("16:" not in h.text for h in rail.hung)

    def test_only_as_many_lanes_as_are_needed(self, waiting: MouldNow) -> None:
        assert laid([due(waiting, "Teal", 3)]).lanes == 1
        assert laid([]).lanes == 1
        close = [due(waiting, "Teal", 3), due(waiting, "Egret", 3.1), due(waiting, "Knot", 3.2)]
        assert laid(close).lanes == 3


class TestAxis:
    def test_now_is_near_the_left_and_time_runs_right(self, shop: FakeShop) -> None:
        axis = laid(shop.board().moulds).axis
        spots = [axis.x(START + h * HOUR) for h in range(10)]
        assert spots == sorted(spots)
        assert spots[0] < 150

    def test_an_hour_of_night_takes_a_quarter_of_the_room(self, waiting: MouldNow) -> None:
        axis = laid([due(waiting, "Teal", 20)]).axis
        day = axis.x(START + 2 * HOUR) - axis.x(START + 1 * HOUR)
        night = axis.x(START + 8 * HOUR) - axis.x(START + 7 * HOUR)
        assert night == pytest.approx(day / 4)

    def test_without_working_hours_all_are_alike(self) -> None:
        axis = Axis(START, START + 10 * HOUR, 1000, tuple(nights(START, START + 10 * HOUR, None)))
        assert axis.x(START + 5 * HOUR) - axis.x(START) == pytest.approx(500)

    def test_ends_hold_what_lies_outside(self) -> None:
        axis = Axis(START, START + HOUR, 1000)
        assert axis.x(START - HOUR) == axis.x(START)
        assert axis.x(START + 5 * HOUR) == axis.x(START + HOUR)

    @pytest.mark.parametrize(
        ("last_h", "span_h"), [(0.5, 12), (10, 12), (10.5, 12.5), (22, 24), (23, 24), (24, 24), (90, 24)]
    )
    def test_as_long_as_what_is_due_from_twelve_hours_to_a_day(
        self, waiting: MouldNow, last_h: float, span_h: float
    ) -> None:
        axis = laid([due(waiting, "Teal", last_h)]).axis
        assert axis.end - START == timedelta(hours=span_h)

    def test_exactly_at_the_end_still_hangs(self, waiting: MouldNow) -> None:
        assert len(laid([due(waiting, "Teal", 24)]).hung) == 1
        assert laid([due(waiting, "Teal", 24.001)]).beyond

    def test_room_at_the_right_for_the_longest_word(self, waiting: MouldNow) -> None:
        name = "A mould with a long name"
        rail = laid([due(waiting, name, None)])
        assert rail.width - rail.axis.width >= len(f"{name}: no hour") * LETTER_W - GAP_W

    def test_but_never_more_than_its_share(self, waiting: MouldNow) -> None:
        rail = lay_out([due(waiting, "A mould with a long name", None)], START, SALTMARSH, clock, WIDE)
        assert rail.axis.width >= WIDE * (1 - MOST_BEYOND_SHARE) - LEFT

    @pytest.mark.parametrize("language", Language)
    @pytest.mark.parametrize("width", [WIDE, TALL])
    def test_what_lies_beyond_fits_in_every_language(
        self, waiting: MouldNow, language: Language, width: float
    ) -> None:
        name = "A mould with a name that is too long"
        never = due(waiting, name, None, never=NotAtThisHumidity(0.64, 0.61, 0.5, 3600))
        with speaking(Voice(language)):
            rail = lay_out(
                [never, due(waiting, name, None), due(waiting, name, 30)], START, SALTMARSH, clock, width
            )
        assert len(rail.beyond) == 3
        for text in rail.beyond_lines:
            assert len(text) * BOLD_LETTER_W + GAP_W <= width - LEFT - rail.axis.width


class TestBeyond:
    """What has no hour is written whole, on a narrow screen in more lines, and never past the edge."""

    def test_a_long_name_is_broken_where_the_room_ends(self, waiting: MouldNow) -> None:
        damp = due(waiting, "Mooring post cap", None, never=NotAtThisHumidity(0.8, 0.6, 0.5, 9000))
        assert lay_out([damp], START, SALTMARSH, clock).beyond_lines == ["Mooring post cap: too damp"]
        standing = lay_out([damp], START, SALTMARSH, clock, TALL, 4)
        assert standing.beyond_lines == ["Mooring post cap:", "too damp"]
        assert standing.lanes == 2

    @pytest.mark.parametrize(
        ("count", "lines", "last"), [(2, 4, "too damp"), (3, 3, "and 2 more"), (9, 3, "and 8 more")]
    )
    def test_what_finds_no_line_is_counted(
        self, waiting: MouldNow, count: int, lines: int, last: str
    ) -> None:
        never = NotAtThisHumidity(0.8, 0.6, 0.5, 9000)
        damp = [due(waiting, f"Mooring post {i}", None, never=never) for i in range(count)]
        shown = lay_out(damp, START, SALTMARSH, clock, TALL, 4).beyond_lines
        assert (len(shown), shown[-1]) == (lines, last)

    @pytest.mark.parametrize("width", [WIDE, TALL])
    def test_no_line_is_wider_than_its_room(self, waiting: MouldNow, width: float) -> None:
        rail = lay_out([due(waiting, "Kneeling figure of the h", None)], START, SALTMARSH, clock, width, 4)
        room = width - LEFT - rail.axis.width - GAP_W
        assert max(map(len, rail.beyond_lines)) * LETTER_W <= room


@pytest.mark.parametrize(
    ("stage", "wanted"),
    [
        (Stage.TO_DIP, True),
        (Stage.TO_WIRE, True),
        (Stage.READY, True),
        (Stage.DRY, True),
        (Stage.DRYING, False),
        (Stage.FINAL_DRY, False),
        (Stage.ENDED, False),
    ],
)
def test_wants_a_hand(waiting: MouldNow, stage: Stage, wanted: bool) -> None:
    assert wants_a_hand(replace(waiting, stage=stage)) is wanted


def test_an_hour_that_is_a_guess_is_marked_as_one(waiting: MouldNow) -> None:
    moulds = [due(waiting, "Plain", 2.0), due(waiting, "Guessed", 3.0, guessing_since=START)]
    assert [hung.bell.clock[0] == "~" for hung in laid(moulds).hung] == [False, True]


class TestSpread:
    def unsure(self, like: MouldNow, **changes: object) -> MouldNow:
        """Ready from 16:20 on, about 16:50, its bell at 17:20, surely by 19:20."""
        spread = {
            "due_early_at": START + 2 * HOUR,
            "about_at": START + 2.5 * HOUR,
            "due_late_at": START + 5 * HOUR,
        }
        return due(like, "Teal", 3, **(spread | changes))

    def test_from_early_over_about_to_late_with_its_bell_where_it_rings(self, waiting: MouldNow) -> None:
        rail = laid([self.unsure(waiting)])
        (hung,), x = rail.hung, rail.axis.x
        bar = Spread(x(START + 2 * HOUR), x(START + 2.5 * HOUR), x(START + 5 * HOUR))
        assert (hung.spread, hung.x) == (bar, x(START + 3 * HOUR))
        assert (hung.bell.clock, hung.bell.rings) == ("17:20", True)
        assert hung.bell.said == "about 16:50, surely by 19:20"

    def test_without_an_end_it_stays_open(self, waiting: MouldNow) -> None:
        rail = laid([self.unsure(waiting, due_late_at=None)])
        bar = rail.hung[0].spread
        assert bar is not None
        assert (bar.open, bar.right) == (True, rail.axis.x(START + 3 * HOUR) + OPEN_W)

    def test_no_bar_is_longer_than_the_rail(self, waiting: MouldNow) -> None:
        last = due(waiting, "Egret", 9.9, due_early_at=START + 9 * HOUR)
        long = self.unsure(waiting, due_late_at=START + 13 * HOUR)
        rail = laid([last, long])
        end = rail.axis.x(rail.axis.end)
        assert [(h.spread.right, h.spread.open) for h in rail.hung if h.spread] == [(end, True), (end, True)]

    def test_up_to_the_very_end_it_is_closed(self, waiting: MouldNow) -> None:
        rail = laid([self.unsure(waiting, due_late_at=START + 12 * HOUR)])
        assert rail.hung[0].spread is not None
        assert not rail.hung[0].spread.open

    def test_a_bell_without_an_hour_hangs_where_it_is_as_likely_as_not(self, waiting: MouldNow) -> None:
        rail = laid([replace(self.unsure(waiting), due_at=None)])
        (hung,) = rail.hung
        assert (hung.x, hung.bell.rings) == (rail.axis.x(START + 2.5 * HOUR), False)
        assert hung.text == "about 16:50"
        assert rail.beyond == ()

    def test_no_bar_where_it_is_not_known(self, waiting: MouldNow) -> None:
        rail = laid([due(waiting, "Teal", 3, due_late_at=START + 5 * HOUR)])
        assert rail.hung[0].spread is None

    def test_no_bar_lies_under_another_label(self, waiting: MouldNow) -> None:
        early = due(waiting, "Teal", 1, due_early_at=START, due_late_at=START + 6 * HOUR)
        later = due(waiting, "Knot", 7, due_early_at=START + 4 * HOUR, due_late_at=START + 8 * HOUR)
        teal, knot = laid([early, later]).hung
        assert teal.lane != knot.lane


@pytest.mark.parametrize(
    ("letters", "told"), [(MOST_LETTERS, MOST_LETTERS), (MOST_LETTERS + 1, MOST_LETTERS)]
)
def test_a_long_name_is_cut(letters: int, told: int) -> None:
    name = shortened("W" * letters)
    assert len(name) == told
    assert name.endswith("…") is (letters > MOST_LETTERS)
