"""The wall-board on screens that hang on walls: what is due is always there, large enough, and in nobody's way.

Letters at four metres: capitals of 1/200 of the distance are read at a glance, 1/250 at once, 1/500 by who looks
(common practice, no source; normal sight resolves 1/688, letters of five minutes of arc, Snellen 1862, from memory).
A 24-inch screen of 1920 x 1080 shows 3.6 px a millimetre.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from api.fakes import SALTMARSH, START, FakeShop, doubtful, silenced
from service.alerts.kinds import Kind
from service.clock import FakeClock
from service.records.facts import MouldBody
from service.room.views import Board, Trouble
from service.units import Units
from tests.api.axe import barriers
from tests.api.browser import Served, browser, faults, until
from tests.api.scene import mould

pytestmark = pytest.mark.browser

LYING, LARGE, STANDING = (1920, 1080), (3840, 2160), (1080, 1920)
WIDE_MM = 531.0  # the long side of 24 inches across, 16 : 9
AWAY_MM = 4000.0

CAPITALS = """
const paper = document.createElement("canvas").getContext("2d");
return [...document.querySelectorAll(arguments[0])].filter((e) => e.offsetParent).map((e) => {
  const { fontStyle, fontWeight, fontSize, fontFamily } = getComputedStyle(e);
  paper.font = `${fontStyle} ${fontWeight} ${fontSize} ${fontFamily}`;
  return paper.measureText("H").actualBoundingBoxAscent;
});"""

MEETING = """
const boxes = [...document.querySelectorAll("#live *, .wall-foot *")]
  .filter((e) => !e.closest("svg") && !e.children.length && e.textContent.trim() && e.offsetParent)
  .flatMap((e) => [...e.getClientRects()].map((r) => [e, r, r.height / 4]))
  .map(([e, r, quarter]) => ({ e, l: r.left + 2, r: r.right - 2, t: r.top + quarter, b: r.bottom - quarter }));
const found = [];
boxes.forEach((one, i) => boxes.slice(i + 1).forEach((other) => {
  if (one.e !== other.e && one.l < other.r && other.l < one.r && one.t < other.b && other.t < one.b)
    found.push(`${one.e.textContent} / ${other.e.textContent}`);
}));
return found;"""

OUTSIDE = """
const out = (box, place) => box.left < place.left - 1 || box.right > place.right + 1
  || box.top < place.top - 1 || box.bottom > place.bottom + 1;
const screen = { left: 0, top: 0, right: innerWidth, bottom: innerHeight };
const box = (e) => e.getBoundingClientRect();
const places = ".next, .row, .round, .rows, .jobs, .rail-box, .wall-foot, .wall-head";
return [...document.querySelectorAll(places)].filter((e) => e.offsetParent)
  .filter((e) => out(box(e), screen) || (e.matches(".row") && out(box(e), box(e.closest(".first, .rows")))))
  .map((e) => e.className + ": " + e.textContent.trim().slice(0, 40));"""

LONGER = """
const words = [".what b", ".what span", ".what small", ".surely", ".ways li", "h3 a", ".air-age", ".air-speed", ".out"];
const more = (text) => " " + "largo".repeat(9).slice(0, Math.ceil(text.length * 0.4) - 1);
for (const e of document.querySelectorAll([...words, ".next .due"].join()))
  if (!e.children.length) e.textContent += more(e.textContent);
dispatchEvent(new Event("resize"));"""

LAID_OUT = "return getComputedStyle(document.querySelector('.wall')).display === 'flex'"
NAMES = "return [...document.querySelectorAll('.name')].filter(e => e.offsetParent).map(e => e.innerText)"
LATER = "Date.now = ((now) => () => now() + arguments[0])(Date.now)"


@pytest.fixture(scope="module")
def wall() -> Iterator[Any]:
    with browser(*LYING) as driver:
        yield driver


@contextmanager
def shown(wall: Any, shop: FakeShop, size: tuple[int, int] = LYING) -> Iterator[None]:
    """A shop's board on a screen of this size."""
    metrics = {"width": size[0], "height": size[1], "deviceScaleFactor": 1, "mobile": False}
    wall.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)
    with Served(shop) as served:
        wall.get(served.address)
        until(lambda: wall.execute_script(LAID_OUT))
        try:
            yield
        finally:
            shop.changes.closing = True


def nothing_due(count: int) -> FakeShop:
    shop = FakeShop.saltmarsh(FakeClock(START), count)
    for m in shop.all_moulds():
        if m.wires_due:
            shop.wires(m.id, "edges", "", f"wires-{m.id}")
        if m.stage in ("ready", "to dip", "to wire"):
            then = START - timedelta(minutes=30)
            shop.dip(m.id, m.next_tank or "", then, "", f"dip-{m.id}-now", "so that it is on")
    return doubtful(shop)


def all_due(count: int) -> FakeShop:
    clock = FakeClock(START)
    shop = FakeShop.saltmarsh(clock, count)
    clock.advance(3 * 3600)
    return shop


def long_names(count: int) -> FakeShop:
    shop = FakeShop.saltmarsh(FakeClock(START), count)
    for number, name in (
        (10, "Kneeling figure of the harbour master, left half"),
        (5, "W" * 60),
        (11, "Gate " * 9),
    ):
        body = shop.records.facts(number)[0].body
        assert isinstance(body, MouldBody)
        shop.change_mould(number, body.model_copy(update={"name": name}), "", f"change-{number}")
    return doubtful(shop)


def american(count: int) -> FakeShop:
    shop = doubtful(FakeShop.saltmarsh(FakeClock(START), count))
    shop.save_site(replace(SALTMARSH, units=Units.US, time_zone="America/New_York"))
    return shop


def in_trouble(count: int) -> FakeShop:
    shop = silenced(FakeShop.saltmarsh(FakeClock(START), count), 40)
    shop.troubles.append(Trouble("push_failed", "A message to the shop phone did not go out.", START))
    shop.troubles.append(Trouble("clock_behind", "The clock is behind what was recorded.", START))
    shop.ring(mould(shop, "Dunlin").id, Kind.LONGEST_WAIT_NEAR)
    return shop


def plain(count: int) -> FakeShop:
    return doubtful(FakeShop.saltmarsh(FakeClock(START), count))


def capitals_mm(wall: Any, css: str, px_a_mm: float = 1920 / WIDE_MM) -> float:
    """How high the smallest capitals of these elements are."""
    return float(min(wall.execute_script(CAPITALS, css)) / px_a_mm)


def pages(wall: Any) -> Iterator[set[str]]:
    """The names on each page, one after the other, as a tap turns them."""
    label = wall.execute_script("return document.querySelector('.turn')?.textContent ?? ''")
    for _ in range(int(label.split()[2]) if label else 1):
        yield {" ".join(name.split()) for name in wall.execute_script(NAMES)}
        wall.execute_script("document.querySelector('.turn')?.click()")


@pytest.mark.parametrize(
    ("make", "count", "size"),
    [
        (plain, 0, LYING),
        (plain, 3, LYING),
        (plain, 12, LYING),
        (plain, 30, LYING),
        (plain, 60, LYING),
        (nothing_due, 1, LYING),
        (nothing_due, 12, LYING),
        (all_due, 60, LYING),
        (long_names, 12, LYING),
        (american, 12, LYING),
        (in_trouble, 12, LYING),
        (plain, 12, LARGE),
        (plain, 12, STANDING),
        (in_trouble, 60, STANDING),
        (all_due, 60, STANDING),
    ],
)
def test_all_is_there_and_nothing_in_anothers_way(
    wall: Any, make: Any, count: int, size: tuple[int, int]
) -> None:
    shop = make(count)
    board = shop.board()
    due = names_of(board, {i for session in board.sessions for i in session.mould_ids})
    with shown(wall, shop, size):
        sides = "const d = document.documentElement; return [d.scrollWidth, d.scrollHeight]"
        assert wall.execute_script(sides) == [*size]
        seen = set[str]()
        for number, names in enumerate(pages(wall)):
            assert due <= names
            if number < 2:
                assert wall.execute_script(OUTSIDE) == []
                assert wall.execute_script(MEETING) == []
            seen |= names
        assert seen == names_of(board, {m.id for m in board.moulds})
        if count:
            assert capitals_mm(wall, ".next .due, .next .name", max(size) / WIDE_MM) >= AWAY_MM / 200
        assert faults(wall) == []


def names_of(board: Board, wanted: set[int]) -> set[str]:
    return {" ".join(m.name.split()) for m in board.moulds if m.id in wanted}


@pytest.mark.parametrize(("make", "size"), [(plain, LYING), (nothing_due, LYING), (nothing_due, STANDING)])
def test_words_two_fifths_longer_still_fit(wall: Any, make: Any, size: tuple[int, int]) -> None:
    with shown(wall, make(12), size):
        wall.execute_script(LONGER)
        assert wall.execute_script("return document.documentElement.scrollWidth") == size[0]
        assert wall.execute_script(OUTSIDE) == []
        assert wall.execute_script(MEETING) == []


class TestFourMetresAway:
    def test_the_next_job_is_by_far_the_largest_thing(self, wall: Any) -> None:
        with shown(wall, nothing_due(12)):
            assert capitals_mm(wall, ".next .due, .next .name") >= AWAY_MM / 200
            assert capitals_mm(wall, ".next .what b, .next .pot") >= AWAY_MM / 250
            assert capitals_mm(wall, ".next .surely, .rows .due, .rows .name, .mates .name") >= AWAY_MM / 500
            next_up = min(wall.execute_script(CAPITALS, ".next .due, .next .name"))
            others = wall.execute_script(CAPITALS, "#live *:not(.next, .next *, .clock, svg *)")
            assert next_up > 2 * max(others)
            when = wall.find_element("css selector", ".when").text
            assert when.split("\n") == ["any time now", "surely by 15:25"]

    def test_a_larger_screen_shows_the_same_larger(self, wall: Any) -> None:
        look = (
            "const b = document.querySelector('.next .name').getBoundingClientRect();"
            "return [b.left, b.top, b.height, b.width]"
        )
        boxes = []
        for size in (LYING, LARGE):
            with shown(wall, plain(12), size):
                boxes.append(wall.execute_script(look))
        assert boxes[1] == pytest.approx([2 * side for side in boxes[0]], rel=0.01)


class TestDoubt:
    """When it is likely stands large, by when it surely is under it; the rail shows both and the bell."""

    WHEN = "return document.querySelector('.when').innerText.split('\\n')"
    BOXES = (
        "return ['.next .due', '.next .surely'].map(css => document.querySelector(css).getBoundingClientRect())"
        ".map(r => [r.left, r.top, r.bottom])"
    )
    FILLED = (
        "return [...document.querySelectorAll('.rail-box .spread')].filter(e => e.getClientRects().length)"
        ".map(e => getComputedStyle(e).fill)"
    )

    @pytest.mark.parametrize("size", [LYING, STANDING])
    def test_on_a_board_that_lies_and_one_that_stands(self, wall: Any, size: tuple[int, int]) -> None:
        with shown(wall, nothing_due(1), size):
            assert wall.execute_script(self.WHEN) == ["about 16:05", "surely by 17:25"]
            (left, _, bottom), (under_left, top, _) = wall.execute_script(self.BOXES)
            assert under_left == pytest.approx(left, abs=1)
            assert top >= bottom - 5
            rises, falls = wall.execute_script(self.FILLED)
            assert ("rises" in rises, "falls" in falls) == (True, True)
            label = wall.execute_script(
                "return document.querySelector('svg.rail').getAttribute('aria-label')"
            )
            assert "about 16:05, surely by 17:25" in label

    def test_without_an_end(self, wall: Any) -> None:
        shop = nothing_due(1)
        plain_mould = shop.mould
        shop.mould = lambda mould_id: replace(plain_mould(mould_id), due_late_at=None)  # type: ignore[method-assign]
        with shown(wall, shop):
            assert wall.execute_script(self.WHEN) == ["about 16:05", "perhaps much later"]
            assert "away" in wall.execute_script(self.FILLED)[1]


class TestSurely:
    """By when a mould is surely ready is said in its row, unless that takes a line that is wanted."""

    SHOWN = "return [...document.querySelectorAll('.rows .surely')].filter(e => e.offsetParent).map(e => e.innerText)"

    def test_where_all_have_room(self, wall: Any) -> None:
        with shown(wall, plain(5), STANDING):
            said = wall.execute_script(self.SHOWN)
            assert len(said) == wall.execute_script(
                "return document.querySelectorAll('.rows .surely').length"
            )
            assert said[0].startswith("surely by ")

    def test_on_the_same_line_where_pages_turn(self, wall: Any) -> None:
        with shown(wall, plain(60), STANDING):
            assert wall.execute_script("return !document.querySelector('.turn').hidden")
            assert wall.execute_script(self.SHOWN)

    def test_but_no_line_is_spent_on_it_where_pages_turn(self, wall: Any) -> None:
        with shown(wall, long_names(60)):
            lines = (
                "return [...document.querySelectorAll('.rows .row .surely')].filter(e => e.offsetParent)"
                ".filter(e => e.offsetTop > e.closest('.what').offsetTop + 12).length"
            )
            assert wall.execute_script(lines) == 0


class TestPages:
    def test_they_turn_by_themselves_and_hold_still_for_a_hand(self, wall: Any) -> None:
        shop = plain(60)
        with shown(wall, shop):
            label = "return document.querySelector('.turn').textContent"
            total = wall.execute_script(label).removeprefix("1 of ")
            first = wall.execute_script(NAMES)
            wall.execute_script(LATER, 16_000)
            until(lambda: wall.execute_script(label) == f"2 of {total}")
            assert wall.execute_script(NAMES) != first
            shop.hear("a change")  # a new state comes, the page stays
            until(lambda: wall.execute_script("return document.querySelector('.board').dataset.took"))
            assert wall.execute_script(label) == f"2 of {total}"
            wall.execute_script("dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowRight' }))")
            assert wall.execute_script(label) == f"3 of {total}, held"
            wall.execute_script(LATER, 60_000)
            time.sleep(0.6)  # one look of the page's own
            assert wall.execute_script(label) == f"3 of {total}, held"
            wall.execute_script(LATER, 80_000)
            until(lambda: wall.execute_script(label) == f"4 of {total}")

    def test_without_scripts_all_rows_are_there_by_scrolling(self, wall: Any) -> None:
        wall.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
        try:
            with shown(wall, plain(60)):
                assert len(wall.execute_script(NAMES)) == 60
                wide, high = wall.execute_script(
                    "const d = document.documentElement; return [d.scrollWidth, d.scrollHeight]"
                )
                assert wide == LYING[0]
                assert high > LYING[1]
                assert wall.execute_script(MEETING) == []
        finally:
            wall.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})

    def test_a_first_start_does_not_flash(self, wall: Any) -> None:
        shop = FakeShop.saltmarsh(FakeClock(START))
        shop.ring(mould(shop, "Heron").id)
        with shown(wall, shop):
            wall.execute_script("localStorage.clear()")
            wall.refresh()
            time.sleep(1.2)  # the first look at what waits
            assert "flash" not in wall.execute_script("return document.body.className")


@pytest.mark.parametrize(("hours", "size"), [(0, LYING), (8, STANDING)])
def test_nobody_is_barred_by_day_or_night(wall: Any, hours: int, size: tuple[int, int]) -> None:
    shop = in_trouble(30)
    shop.clock.advance(hours * 3600)  # type: ignore[attr-defined]
    with shown(wall, shop, size):
        light = wall.execute_script("return document.documentElement.dataset.light")
        assert light == ("night" if hours else "day")
        assert barriers(wall) == []
