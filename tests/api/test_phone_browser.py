"""The jobs of a wet glove, on a phone of 360 by 640 in Chromium: every tap is counted, every target measured."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from api.fakes import START, FakeShop, doubtful
from service.clock import FakeClock
from service.records.facts import DipBody, FaceBody, NoteBody, Problem, WeightBody, WiresBody
from service.room.fittings import HookSetUp
from tests.api.axe import barriers
from tests.api.browser import Served, browser, faults, until
from tests.api.scene import mould
from tests.service.records.pictures import jpeg

pytestmark = pytest.mark.browser

PHONE = (360, 640)
GLOVE_PX = 82
"""15 mm on a phone whose 360 px are some 67 mm wide (measured on common phones; no source)."""
LEAST_TYPE_PX = 18
TARGETS = """
const seen = (e) => e.checkVisibility() && e.getBoundingClientRect().height > 0 && e.getBoundingClientRect().right > 0;
const all = 'main button, main select, main summary, main a.job, main a.button, main .toggle label, main .tank-choice,'
  + ' main input:not([type=hidden]):not([type=checkbox]), main .not-yet a, nav.top > a, nav.top summary';
return [...document.querySelectorAll(all)].filter(seen)
  .filter((e) => e.getBoundingClientRect().height < arguments[0] || e.getBoundingClientRect().width < arguments[0])
  .map((e) => e.outerHTML.slice(0, 120));
"""
TYPE = """
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
const small = new Set();
for (let n = walk.nextNode(); n; n = walk.nextNode()) {
  const e = n.parentElement;
  if (!n.data.trim() || !e.checkVisibility() || e.closest('svg, script, datalist, .skip')) continue;
  if (parseFloat(getComputedStyle(e).fontSize) < arguments[0]) small.add(e.outerHTML.slice(0, 120));
}
return [...small];
"""


@pytest.fixture
def shop() -> FakeShop:
    return FakeShop.saltmarsh(FakeClock(START))


@pytest.fixture(scope="module")
def phone() -> Iterator[Any]:
    with browser(*PHONE, phone=True) as driver:
        yield driver


class Thumb:
    """A hand on the phone: goes by taps alone, and counts them."""

    def __init__(self, driver: Any, served: Served) -> None:
        self.driver, self.served, self.taps = driver, served, 0

    def open(self, path: str) -> None:
        """Tap a link outside coatbell: in a message, on a tag."""
        self.taps += 1
        self.driver.get(self.served.address + path)

    def tap(self, words: str, css: str = "button, a, summary, label") -> None:
        """Tap what can be seen and starts with these words."""
        self.taps += 1
        shown = until(lambda: self._shown(words, css))  # a link is tried first: its page comes a moment later
        self.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", shown)
        shown.click()

    def _shown(self, words: str, css: str) -> Any:
        found = [e for e in self.driver.find_elements("css selector", css) if e.text.startswith(words)]
        return next((e for e in found if e.is_displayed()), None)

    def sees(self, words: str, css: str = "body") -> None:
        until(lambda: words in self.driver.find_element("css selector", css).text)


@pytest.fixture
def thumb(phone: Any, served: Served) -> Iterator[Thumb]:
    phone.get(f"{served.address}/key")
    phone.execute_script("localStorage.clear()")
    phone.delete_all_cookies()
    phone.add_cookie({"name": "coatbell_hand", "value": "bench 2"})
    faults(phone)
    yield Thumb(phone, served)
    assert faults(phone) == []


class TestTwoTaps:
    """From the bell to *Dipped*, with hand and tank remembered."""

    def test_by_the_link_of_the_mould(self, thumb: Thumb, shop: FakeShop) -> None:
        thumb.open(f"/mould/{mould(shop, 'Heron').id}")
        thumb.tap("Dipped")
        thumb.sees("Coat 5, backup, dipped from the grey tank, 14:20, bench 2", ".did")
        assert thumb.taps == 2
        thumb.tap("Undo")
        until(lambda: mould(shop, "Heron").coats_given == 4)
        assert thumb.taps == 3

    def test_by_on_my_way(self, thumb: Thumb, shop: FakeShop) -> None:
        """The first tap says that bench 1 comes; the second records the dip in the name the message went to."""
        thumb.open(shop.link(shop.ring(mould(shop, "Heron").id)))
        thumb.sees("You are on the way to Heron")
        thumb.tap("Dipped")
        thumb.sees("Coat 5, backup, dipped from the grey tank, 14:20, bench 1", ".did")
        assert thumb.taps == 2


class TestDoubt:
    """An hour with its doubt, on the page of a mould, in the list and at the tank."""

    CUT = (
        "return [...document.querySelectorAll('.mould-list a > *')].filter(e => e.scrollWidth > e.clientWidth + 1)"
        ".map(e => e.innerText)"
    )
    NARROW = (
        "return [...document.querySelectorAll('.mould-list b')]"
        ".filter(e => e.getBoundingClientRect().width < 0.4 * e.parentElement.getBoundingClientRect().width)"
        ".map(e => e.innerText)"
    )

    def test_about_and_surely_wherever_it_stands(self, thumb: Thumb, shop: FakeShop, phone: Any) -> None:
        doubtful(shop)
        curlew = mould(shop, "Curlew")
        thumb.open(f"/mould/{curlew.id}")
        thumb.sees("Wait: about 15:00, surely by 16:20", ".what-now")
        thumb.open("/moulds")
        thumb.sees("Surely by 16:20; coat 3 of 8", ".mould-list")
        assert phone.execute_script(self.CUT) == []
        thumb.open("/dipping?tank=grey")
        thumb.sees("Wait: about 15:00, surely by 16:20", ".not-yet")
        assert phone.execute_script(self.CUT) == phone.execute_script(self.NARROW) == []
        sides = "const d = document.documentElement; return d.scrollWidth - d.clientWidth"
        assert phone.execute_script(sides) == 0


class TestSession:
    def test_three_moulds_from_one_tank(self, thumb: Thumb, shop: FakeShop, phone: Any) -> None:
        shop.clock.advance(3600)  # type: ignore[attr-defined]
        shop.wires(mould(shop, "Gate panel, left").id, "", "", "wires-key-1")
        thumb.open("/dipping")
        thumb.tap("The grey tank")
        thumb.sees("Tap what you dipped", ".thumb")
        for name in ("Heron", "Lapwing", "Gate panel, left"):
            thumb.tap(name, ".toggle label")
        thumb.sees("Dipped 3 moulds", ".thumb")
        phone.refresh()  # a phone that slept loads the page anew: what was ticked stays
        thumb.sees("Dipped 3 moulds", ".thumb")
        thumb.tap("Gate panel, left", ".toggle label")
        thumb.tap("Dipped 2 moulds")
        thumb.sees("2 dips recorded.", ".did")
        facts = shop.records.all_facts[-2:]
        assert [fact.mould_id for fact in facts] == [mould(shop, "Heron").id, mould(shop, "Lapwing").id]
        assert all(isinstance(fact.body, DipBody) and fact.hand == "bench 2" for fact in facts)
        thumb.tap("Undo")
        thumb.sees("1 dip recorded.", ".did")
        assert barriers(phone) == []

    def test_one_refused_keeps_its_tick_and_takes_a_reason(
        self, thumb: Thumb, shop: FakeShop, phone: Any
    ) -> None:
        thumb.open("/dipping?tank=grey")
        thumb.tap("Heron", ".toggle label")
        thumb.tap("Gate panel, left", ".toggle label")
        thumb.tap("Dipped 2 moulds")
        thumb.sees("1 dip was not recorded", ".problem")
        thumb.sees("Dipped 1 mould", ".thumb")
        assert barriers(phone) == []
        faults(phone)  # the browser takes a refusal for a fault
        phone.find_element("css selector", ".toggle .field input").send_keys("wire comes on the next")
        thumb.tap("Dipped 1 mould")
        until(lambda: mould(shop, "Gate panel, left").coats_given == 6)
        assert mould(shop, "Heron").coats_given == 5


class TestOtherJobs:
    def test_wires_damp_weight_problem_photo_and_move(
        self, thumb: Thumb, shop: FakeShop, phone: Any, tmp_path: Path
    ) -> None:
        panel = mould(shop, "Gate panel, left").id
        shop.keep_hook("21", HookSetUp(room_id=mould(shop, "Gate panel, left").room.id), "")
        shop.show_weight("hoist", 14.2)
        thumb.open(f"/mould/{panel}")
        thumb.tap("Wires set")
        thumb.sees("Wires set on coat 5", ".did")
        thumb.tap("Still damp")
        thumb.sees("Felt still damp", ".did")
        thumb.tap("Weigh", "summary")
        shop.show_weight("hoist", 14.23)
        thumb.sees("14.23 kg", "#scales")  # renewed while somebody looks
        thumb.tap("Keep what hoist shows")
        thumb.sees("Weighed 14.23 kg by the scale “hoist”", ".did")
        thumb.tap("Something is wrong", "summary")
        thumb.tap("Crack")
        thumb.sees("Something is wrong: Crack", ".did")
        thumb.tap("Put right")
        thumb.sees("Put right: Crack", ".did")
        thumb.tap("Photo", "summary")
        file = tmp_path / "panel.jpg"
        file.write_bytes(jpeg())
        phone.find_element("id", "photo-camera").send_keys(str(file))
        thumb.tap("Keep the photos")
        thumb.sees("Recorded. Photo", ".did")
        thumb.tap("Move to another hook")
        thumb.tap("hook 21")
        thumb.sees("Hook 21 instead of 5", ".did")
        said = [fact.body for fact in shop.records.facts(panel)[-7:]]
        assert isinstance(said[0], WiresBody)
        assert said[2] == WeightBody(mass_kg=14.23, scale="hoist")
        assert said[3:5] == [
            NoteBody(problem=Problem.CRACK),
            NoteBody(problem=Problem.CRACK, over=True),
        ]

    def test_a_face_read_and_a_probe_put_on(self, thumb: Thumb, shop: FakeShop, phone: Any) -> None:
        """The reading: unfold, type, tap the place."""
        heron = mould(shop, "Heron").id
        shop.show_surface("probe 2", 290.0)
        thumb.open(f"/mould/{heron}")
        thumb.taps = 0
        thumb.tap("Temperature of a face", "summary")
        phone.find_element("id", "f-temperature").send_keys("18.4")
        thumb.tap("hollow base", "#face button")
        thumb.sees("Face read at hollow base: 18.4 °C, 14:20, bench 2", ".did")
        assert thumb.taps == 2
        assert shop.records.all_facts[-1].body == FaceBody(temperature_k=18.4 + 273.15, zone="hollow base")
        thumb.tap("Scale or probe on it", "summary")
        thumb.tap("outside", "#sensors button")
        thumb.sees("“probe 2” put on at outside", ".did")
        thumb.tap("Scale or probe on it (1)", "summary")
        thumb.tap("Take off probe 2")
        thumb.sees("“probe 2” taken off", ".did")

    def test_enter_says_nothing_of_the_place(self, thumb: Thumb, shop: FakeShop, phone: Any) -> None:
        """It must not take the first there is."""
        thumb.open(f"/mould/{mould(shop, 'Heron').id}")
        thumb.tap("Temperature of a face", "summary")
        phone.find_element("id", "f-temperature").send_keys("18.4\n")
        thumb.sees("Choose one of: outside, hollow base.", ".problem")
        assert phone.find_element("id", "f-temperature").get_attribute("value") == "18.4"
        assert {"422" in fault for fault in faults(phone)} == {True}
        thumb.tap("outside", "#face button")
        thumb.sees("Face read at outside: 18.4 °C", ".did")

    def test_what_was_learned_is_learned_anew(self, thumb: Thumb, shop: FakeShop) -> None:
        thumb.open(f"/mould/{mould(shop, 'Heron').id}")
        thumb.tap("What was heard of it", "summary")
        thumb.tap("What this shop taught", "#heard a")
        thumb.sees("Hook 3 in Shell room: water leaves 1.6 times as fast")
        thumb.tap("Learn anew", "summary")
        thumb.tap("Learn this anew")
        thumb.sees("Recorded. To be learned anew: how fast water leaves (The whole shop)", ".did")
        assert [fact.hand for fact in shop.learned_anew()] == ["bench 2"]
        thumb.tap("Undo")
        until(lambda: shop.learned_anew() == [])

    def test_more_pages_are_two_taps_away(self, thumb: Thumb, phone: Any) -> None:
        thumb.open("/moulds")
        thumb.tap("More", "summary")
        assert barriers(phone) == []
        thumb.tap("Air")
        thumb.sees("Air", "h1")


def pages(shop: FakeShop) -> dict[str, str]:
    heron, panel, drying = (mould(shop, name).id for name in ("Heron", "Gate panel, left", "Lapwing"))
    own = {"ready": heron, "wires": panel, "drying": drying, "dewax": mould(shop, "Portrait head").id}
    return {
        **{name: f"/mould/{number}" for name, number in own.items()},
        "move": f"/mould/{heron}/move",
        "tanks": "/dipping",
        "session": "/dipping?tank=grey",
        "reply": shop.link(shop.ring(heron)).rpartition("/")[0],
    }


class TestGlove:
    def test_every_target_is_15_mm_no_type_is_small_and_nothing_bars_the_way(
        self, thumb: Thumb, shop: FakeShop, phone: Any
    ) -> None:
        """By day and at night, and with everything unfolded."""
        shop.show_weight("hoist", 14.2)
        shop.show_surface("probe 2", 290.0)
        shop.put_sensor_on(mould(shop, "Heron").id, "hoist", None, "", "on-key-0001")
        shop.note(mould(shop, "Heron").id, "at the cup", "", "wrong-key-01", problem=Problem.CRACK)
        for name, path in pages(shop).items():
            phone.get(thumb.served.address + path)
            for light in ("day", "night"):
                phone.execute_script("document.documentElement.dataset.light = arguments[0]", light)
                assert (name, light, barriers(phone)) == (name, light, [])
            phone.execute_script("for (const d of document.querySelectorAll('main details')) d.open = true")
            assert (name, phone.execute_script(TARGETS, GLOVE_PX)) == (name, [])
            assert (name, phone.execute_script(TYPE, LEAST_TYPE_PX)) == (name, [])
            wide = phone.execute_script("return document.documentElement.scrollWidth")
            assert (name, wide) == (name, PHONE[0])

    def test_the_next_right_action_is_the_biggest_and_under_the_thumb(
        self, thumb: Thumb, shop: FakeShop, phone: Any
    ) -> None:
        for name in ("Heron", "Gate panel, left", "Godwit"):
            thumb.open(f"/mould/{mould(shop, name).id}")
            sizes = phone.execute_script(
                "return [...document.querySelectorAll('button, summary, a')].filter(e => e.checkVisibility())"
                ".map(e => [e.getBoundingClientRect().width * e.getBoundingClientRect().height, e.className])"
            )
            assert max(sizes)[1].startswith("main")
            box = phone.execute_script(
                "const b = document.querySelector('button.main').getBoundingClientRect(); return [b.top, b.bottom]"
            )
            assert PHONE[1] / 2 < box[0] < box[1] <= PHONE[1]

    def test_the_navigation_takes_one_line(self, thumb: Thumb, phone: Any) -> None:
        thumb.open("/moulds")
        tops = phone.execute_script(
            "return [...document.querySelectorAll('nav.top > a, nav.top summary')].filter(e => e.checkVisibility())"
            ".map(e => Math.round(e.getBoundingClientRect().top))"
        )
        assert len(tops) == 4
        assert len(set(tops)) == 1
        for path in ("/records", "/air", f"/mould/{mould(thumb.served.shop, 'Heron').id}/audit"):  # type: ignore[arg-type]
            phone.get(thumb.served.address + path)
            assert phone.execute_script("return document.documentElement.scrollWidth") == PHONE[0]
