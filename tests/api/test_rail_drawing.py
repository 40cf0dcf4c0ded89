"""The rail as SVG."""

from __future__ import annotations

import re
import xml.etree.ElementTree as Xml
from dataclasses import replace
from datetime import datetime
from itertools import pairwise

from api.fakes import SALTMARSH, START, FakeShop
from api.rail import LETTER_W, TALL, WIDE, Rail, lay_out
from api.rail_drawing import CLEAR_OF_HOUR, described, drawn
from service.room.views import Board
from service.units import Units
from tests.api.scene import HOUR, mould


def clock(at: datetime) -> str:
    return f"{at:%H:%M}"


def rail_of(board: Board) -> Rail:
    return lay_out(board.moulds, START, SALTMARSH, clock)


def drawing(board: Board) -> str:
    return str(drawn(rail_of(board), SALTMARSH, clock))


def test_is_well_formed_and_every_mould_is_named_for_those_who_cannot_see_it(shop: FakeShop) -> None:
    board = shop.board()
    root = Xml.fromstring(drawing(board))
    label = root.get("aria-label") or ""
    assert all(m.name in label for m in board.moulds)
    assert "Heron now" in label
    assert "Lapwing coat 6 14:50" in label


def test_one_bell_for_each_that_is_coming(shop: FakeShop) -> None:
    rail = rail_of(shop.board())
    assert drawing(shop.board()).count('class="bell"') == len(rail.hung)


def test_now_is_marked_with_the_hour(shop: FakeShop) -> None:
    assert re.search(r'class="now-text"[^>]*>14:20<', drawing(shop.board()))


def test_night_is_shaded_once(shop: FakeShop) -> None:
    assert drawing(shop.board()).count('class="night"') == 1


def test_hours_are_written_and_midnight_is_a_day(shop: FakeShop) -> None:
    hours = re.findall(r'class="hour-text[^"]*"[^>]*>([^<]+)<', drawing(shop.board()))
    assert "16" in hours
    assert "Fri" in hours


def test_hours_go_round_twice_a_day_where_clocks_do(shop: FakeShop) -> None:
    board = shop.board()
    american = replace(SALTMARSH, units=Units.US)
    picture = str(drawn(lay_out(board.moulds, START, american, clock), american, clock))
    hours = re.findall(r'class="hour-text[^"]*"[^>]*>(\d+)<', picture)
    assert "4" in hours
    assert all(1 <= int(hour) <= 12 for hour in hours)


def test_the_hour_now_is_not_cut_off_at_the_left(shop: FakeShop) -> None:
    rail = rail_of(shop.board())
    picture = str(drawn(rail, SALTMARSH, lambda at: f"{at:%a %H:%M:%S am}"))
    words = re.search(r'class="now-text" x="([\d.]+)" y="25">([^<]+)<', picture)
    assert words is not None
    assert float(words[1]) == len(words[2]) * LETTER_W / 2 > rail.axis.x(rail.now)


def test_hours_never_stand_in_each_other(shop: FakeShop) -> None:
    spots = [
        float(x)
        for x in re.findall(r'class="hour-text[^"]*" x="([\d.]+)" y="25">[^<]', drawing(shop.board()))
    ]
    assert len(spots) > 4
    assert all(b - a >= CLEAR_OF_HOUR for a, b in pairwise(spots))


def test_no_hour_of_its_own_is_written_at_the_right(shop: FakeShop) -> None:
    lapwing = replace(mould(shop, "Lapwing"), due_at=None)
    rail = lay_out([lapwing], START, SALTMARSH, clock)
    picture = str(drawn(rail, SALTMARSH, clock))
    assert "Lapwing: no hour" in picture
    assert "no hour, or later" in picture


def test_more_than_fit_at_the_right_are_counted(shop: FakeShop) -> None:
    lost = [replace(mould(shop, "Lapwing"), due_at=None, name=f"Teal {i}") for i in range(9)]
    rail = lay_out(lost, START, SALTMARSH, clock)
    picture = str(drawn(rail, SALTMARSH, clock))
    assert "and 7 more" in picture
    assert all(f"Teal {i}" in described(rail) for i in range(9))


def test_the_longest_wait_is_a_bar(shop: FakeShop) -> None:
    rail = lay_out([mould(shop, "Avocet")], START, SALTMARSH, clock)
    assert 'class="window"' in drawn(rail, SALTMARSH, clock)


def test_nothing_due_says_so() -> None:
    assert described(lay_out([], START, SALTMARSH, clock)) == "What is due: nothing"


def test_a_name_with_markup_stays_text(shop: FakeShop) -> None:
    odd = replace(mould(shop, "Lapwing"), name="<b>&")
    picture = str(drawn(lay_out([odd], START, SALTMARSH, clock), SALTMARSH, clock))
    assert "<b>" not in picture
    Xml.fromstring(picture)


class TestSpread:
    """The bar of a bell."""

    def picture(self, shop: FakeShop, **changes: object) -> str:
        spread = {"due_early_at": START, "about_at": START + 0.25 * HOUR, "due_late_at": START + 2 * HOUR}
        known = replace(mould(shop, "Lapwing"), **(spread | changes))  # type: ignore[arg-type]
        return str(drawn(lay_out([known], START, SALTMARSH, clock), SALTMARSH, clock))

    def fills(self, picture: str) -> list[str]:
        return re.findall(r'class="spread" fill="url\(#(\w+)-1880\)"', picture)

    def test_is_darkest_where_it_is_as_likely_as_not(self, shop: FakeShop) -> None:
        picture = self.picture(shop)
        assert self.fills(picture) == ["rises", "falls"]
        assert 'class="bell"' in picture
        Xml.fromstring(picture)

    def test_fades_out_where_no_end_is_known(self, shop: FakeShop) -> None:
        picture = self.picture(shop, due_late_at=None)
        assert self.fills(picture) == ["rises", "away"]
        assert re.search(r'id="away-1880".*?stop-opacity="0"', picture)

    def test_every_fill_is_there_on_each_of_both_rails(self, shop: FakeShop) -> None:
        board = shop.board()
        for width in (WIDE, TALL):
            picture = str(drawn(lay_out(board.moulds, START, SALTMARSH, clock, width), SALTMARSH, clock))
            ids = re.findall(r'<linearGradient id="([\w-]+)"', picture)
            assert ids == [f"{name}-{width:.0f}" for name in ("rises", "falls", "away")]

    def test_what_hangs_there_without_a_bell_has_no_mark(self, shop: FakeShop) -> None:
        picture = self.picture(shop, due_at=None)
        assert 'class="bell"' not in picture
        assert 'class="thread"' in picture
        assert "about 14:35" in picture

    def test_a_guess_is_dashed_and_open_where_it_has_no_end(self, shop: FakeShop) -> None:
        guess = self.picture(shop, guessing_since=START - HOUR)
        assert guess.count('class="spread guessed"') == 1
        assert 'class="bell guessed"' in guess
        assert self.fills(guess) == []
        dashes = [
            re.search(
                r'class="spread guessed" d="([^"]+)"',
                self.picture(shop, guessing_since=START, due_late_at=late),
            )
            for late in (START + HOUR, None)
        ]
        assert [found[1].endswith("z") for found in dashes if found] == [True, False]

    def test_is_said_to_those_who_cannot_see_it(self, shop: FakeShop) -> None:
        assert "Lapwing coat 6 about 14:35, surely by 16:20" in self.picture(shop)


def test_no_spread_no_bar(shop: FakeShop) -> None:
    assert 'class="spread' not in drawing(shop.board())
