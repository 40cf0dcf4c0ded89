"""What is recorded on a phone without a connection waits there and goes once, in order, with the time it was made.

On plain http, as most shops have it: no service worker, no locks of the browser's.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from api.fakes import START, FakeShop
from service.clock import FakeClock
from service.records.facts import Fact, NoteBody
from tests.api.axe import barriers
from tests.api.browser import Served, faults, until
from tests.api.lossy import Line, Lossy
from tests.api.phone_in_shed import (
    HOST,
    bar,
    cut,
    entries,
    fill,
    in_page,
    keep_pages,
    phone_in_shed,
    tap,
)
from tests.api.scene import mould
from tests.api.test_browser import text
from tests.service.records.pictures import jpeg

pytestmark = pytest.mark.browser

LATER = timedelta(minutes=40)


@pytest.fixture
def shop() -> FakeShop:
    return FakeShop.saltmarsh(FakeClock(START))


@pytest.fixture(scope="module")
def browser_in_shed() -> Iterator[Any]:
    with phone_in_shed() as driver:
        yield driver


@pytest.fixture
def phone(browser_in_shed: Any) -> Iterator[Any]:
    """The next shop has another port, and so a store of its own."""
    yield browser_in_shed
    cut(browser_in_shed, False)
    browser_in_shed.get("about:blank")


@pytest.fixture
def served(shop: FakeShop) -> Iterator[Served]:
    with Served(shop, HOST) as served:
        yield served
        shop.changes.closing = True


def back(driver: Any) -> None:
    """The network is there again, as a phone notices it."""
    cut(driver, False)
    driver.execute_script("dispatchEvent(new Event('online'))")


def notes(shop: FakeShop, name: str = "Heron") -> list[str]:
    facts = shop.records.facts(mould(shop, name).id)
    return [fact.body.text for fact in facts if isinstance(fact.body, NoteBody)]


def last(shop: FakeShop) -> Fact:
    return shop.records.all_facts[-1]


class TestNoConnection:
    def test_it_waits_is_shown_and_goes_with_its_time(
        self, served: Served, shop: FakeShop, phone: Any
    ) -> None:
        phone.get(f"{served.address}/mould/1")
        assert phone.execute_script("return isSecureContext || 'locks' in navigator") is False
        assert bar(phone) == ""
        cut(phone)
        fill(phone, "/dip", "Dipped")
        until(lambda: bar(phone) == "1 waits on this phone: Heron: Dipped, 14:20")
        until(
            lambda: (
                "Not recorded yet: no connection. It waits on this phone as of 14:20"
                in text(phone, ".waiting")
            )
        )
        assert "not in what you see here: Heron: Dipped, 14:20" in text(phone, ".waits-here")
        fill(phone, "/dip", "Dipped")
        until(lambda: "waits on this phone already" in text(phone, ".waiting"))
        tap(phone, "#waiting summary")
        sizes = phone.execute_script(
            "return [...document.querySelectorAll('#waiting summary, #waiting button')].filter(b => b.offsetParent)"
            ".map(b => b.getBoundingClientRect().height)"
        )
        assert min(sizes) >= 82
        assert barriers(phone) == []
        shop.clock.advance(LATER.total_seconds())  # type: ignore[attr-defined]
        back(phone)
        until(lambda: "Recorded." in text(phone, ".did"))
        assert entries(phone) == []
        (dip,) = [fact for fact in shop.records.facts(1) if fact.hand == "" and fact.at > START]
        assert dip.at - START < timedelta(minutes=1)
        assert dip.recorded_at == START + LATER
        assert faults(phone) == []

    def test_a_face_read_waits_by_its_name(self, served: Served, shop: FakeShop, phone: Any) -> None:
        """Its button says a place, which would not say what waits."""
        phone.get(f"{served.address}/mould/1")
        cut(phone)
        fill(phone, "/face", "hollow base", temperature="18.4")
        until(lambda: bar(phone) == "1 waits on this phone: Heron: Temperature of a face, 14:20")
        shop.clock.advance(LATER.total_seconds())  # type: ignore[attr-defined]
        back(phone)
        until(lambda: "Face read at hollow base: 18.4 °C" in text(phone, ".did"))
        face = last(shop)
        assert (face.body.kind, face.recorded_at) == ("face", START + LATER)
        assert face.at - START < timedelta(minutes=1)

    def test_after_closing_the_page_another_page_sends_it(
        self, served: Served, shop: FakeShop, phone: Any
    ) -> None:
        phone.get(f"{served.address}/mould/1")
        cut(phone)
        fill(phone, "/note", "Keep the note", text="a hairline")
        until(lambda: bar(phone))
        phone.get("about:blank")
        cut(phone, False)
        phone.get(f"{served.address}/recipes")
        until(lambda: bar(phone) == "Recorded: Heron: Keep the note, 14:20")
        assert notes(shop) == ["a hairline"]

    def test_the_board_sends_too(self, served: Served, shop: FakeShop, phone: Any) -> None:
        phone.get(f"{served.address}/mould/1")
        cut(phone)
        fill(phone, "/note", "Keep the note", text="a hairline")
        until(lambda: bar(phone))
        cut(phone, False)
        phone.get(served.address)
        until(lambda: notes(shop) == ["a hairline"])

    def test_photos_wait_as_well(self, served: Served, shop: FakeShop, phone: Any, tmp_path: Path) -> None:
        file = tmp_path / "heron.jpg"
        file.write_bytes(jpeg())
        phone.get(f"{served.address}/mould/1")
        phone.find_element("id", "photo-album").send_keys(str(file))
        cut(phone)
        fill(phone, "/photos", "Keep the photos")
        until(lambda: bar(phone))
        phone.get("about:blank")
        cut(phone, False)
        phone.get(f"{served.address}/moulds")
        until(lambda: len(shop.photos(1)) == 1)
        until(lambda: entries(phone) == [])

    def test_photos_that_are_too_much_say_so_and_go_from_the_page(
        self, served: Served, shop: FakeShop, phone: Any, tmp_path: Path
    ) -> None:
        """Four of 18 MB: the service would take them, the phone keeps 60 MB at most."""
        big = tmp_path / "big.jpg"
        big.write_bytes(jpeg() + b"\0" * 18_000_000)
        phone.get(f"{served.address}/mould/1")
        phone.find_element("id", "photo-album").send_keys("\n".join([str(big)] * 4))
        cut(phone)
        fill(phone, "/photos", "Keep the photos")
        until(lambda: "Leave this page open" in text(phone, ".waiting"))
        assert entries(phone) == []

    def test_thrown_away_only_after_it_was_asked(self, served: Served, shop: FakeShop, phone: Any) -> None:
        phone.get(f"{served.address}/mould/1")
        cut(phone)
        fill(phone, "/note", "Keep the note", text="a slip")
        until(lambda: bar(phone))
        tap(phone, "#waiting summary")
        tap(phone, "#waiting [data-do=throw]")
        tap(phone, "#waiting [data-do=keep]")
        assert len(entries(phone)) == 1
        tap(phone, "#waiting [data-do=throw]")
        tap(phone, "#waiting [data-do=gone]")
        until(lambda: bar(phone) == "")
        back(phone)
        in_page(phone, "waiting.send()")
        assert notes(shop) == []


class TestAnswerLost:
    def test_recorded_already_it_is_known_again(self, served: Served, shop: FakeShop, phone: Any) -> None:
        with Lossy(served.port) as line:
            phone.get(f"http://{HOST}:{line.port}/mould/1")
            line.become(Line.ANSWERS_LOST)
            fill(phone, "/dip", "Dipped")
            until(lambda: line.lost >= 2)
            assert mould(shop, "Heron").coats_given == 5
            line.become(Line.WHOLE)
            until(lambda: "Recorded. Coat 5" in text(phone, ".did"))
            assert mould(shop, "Heron").coats_given == 5
            assert entries(phone) == []

    def test_an_answer_that_is_not_coatbells_counts_for_nothing(
        self, served: Served, shop: FakeShop, phone: Any
    ) -> None:
        """A guest network answers everything with a page of its own."""
        phone.get(f"{served.address}/mould/1")
        phone.execute_script(
            "window.real = fetch; window.fetch = async () => new Response('<h1>Welcome</h1>', {status: 200})"
        )
        fill(phone, "/note", "Keep the note", text="a hairline")
        until(lambda: bar(phone))
        phone.execute_script("window.fetch = window.real")
        in_page(phone, "waiting.send()")
        assert notes(shop) == ["a hairline"]


class TestRefused:
    def test_it_stays_with_the_words_and_holds_up_its_own_mould_alone(
        self, served: Served, shop: FakeShop, phone: Any
    ) -> None:
        phone.get(f"{served.address}/mould/1")
        keep_pages(phone)
        cut(phone)
        fill(phone, "/dip", "Dipped")
        until(lambda: len(entries(phone)) == 1)
        fill(phone, "/note", "Keep the note", text="after the dip")
        until(lambda: len(entries(phone)) == 2)
        phone.execute_script("document.querySelector('nav a[href=\"/moulds\"]').click()")
        tap(phone, "a[href='/mould/2']")
        until(lambda: "Curlew" in text(phone, "h1"))
        fill(phone, "/note", "Keep the note", text="another mould")
        until(lambda: len(entries(phone)) == 3)
        shop.dip(1, "grey", None, "bench 2", "bench-two-dip")
        back(phone)
        until(lambda: notes(shop, "Curlew") == ["another mould"])
        until(lambda: bar(phone) == "Not taken: Heron: Dipped, 14:20. Tap to see why.")
        assert notes(shop) == []
        tap(phone, "#waiting summary")
        assert "Coat 6 comes next, not coat 5." in text(phone, "#waiting ol")
        assert barriers(phone) == []
        tap(phone, "#waiting [data-do=throw]")
        tap(phone, "#waiting [data-do=gone]")
        until(lambda: notes(shop) == ["after the dip"])
        assert mould(shop, "Heron").coats_given == 5

    def test_put_right_it_keeps_the_time_it_was_made(
        self, served: Served, shop: FakeShop, phone: Any
    ) -> None:
        lapwing = mould(shop, "Lapwing").id
        phone.get(f"{served.address}/mould/{lapwing}")
        cut(phone)
        fill(phone, "/dip", "Dipped")
        until(lambda: bar(phone))
        shop.clock.advance(600)  # type: ignore[attr-defined]
        back(phone)
        until(lambda: bar(phone).startswith("Not taken"))
        tap(phone, "#waiting summary")
        tap(phone, "#waiting [data-do=right]")
        until(lambda: "This was made at 14:20" in text(phone, ".waiting"))
        assert "Coat 5 is still damp." in text(phone, ".problem[role=alert]")
        fill(phone, "/dip", "Dipped", early_reason="the pour is booked")
        until(lambda: "though not ready: the pour is booked" in text(phone, ".did"))
        assert last(shop).at - START < timedelta(minutes=1)
        assert entries(phone) == []
        assert bar(phone) in ("", "Recorded: Lapwing: Dipped, 14:20")

    def test_refused_at_once_the_page_says_why_and_nothing_stays(
        self, served: Served, shop: FakeShop, phone: Any
    ) -> None:
        phone.get(f"{served.address}/mould/{mould(shop, 'Lapwing').id}")
        fill(phone, "/dip", "Dipped")
        until(lambda: "Coat 5 is still damp." in text(phone, ".problem[role=alert]"))
        until(lambda: entries(phone) == [])
        fill(phone, "/dip", "Dipped", early_reason="the pour is booked")
        until(lambda: "the pour is booked" in text(phone, ".did"))


class TestKey:
    def test_without_the_shop_key_it_waits_and_says_so(self, shop: FakeShop, phone: Any) -> None:
        with Served(shop, HOST, "reeds and mud") as served:
            give_key(phone, f"{served.address}/key?to=/mould/1")
            until(lambda: text(phone, "h1") == "Heron")
            phone.delete_all_cookies()
            fill(phone, "/note", "Keep the note", text="a hairline")
            until(lambda: bar(phone).startswith("Coatbell wants the shop key first."))
            assert notes(shop) == []
            tap(phone, "#waiting summary")
            tap(phone, "#waiting .wants-key a")
            until(lambda: "/key?to=%2Fmould%2F1" in phone.current_url)
            give_key(phone)
            until(lambda: notes(shop) == ["a hairline"])
            shop.changes.closing = True


def give_key(driver: Any, address: str = "") -> None:
    if address:
        driver.get(address)
    driver.find_element("id", "shop_key").send_keys("reeds and mud")
    driver.find_element("css selector", "button.main").click()


class TestSeveralTabs:
    def test_one_sends_and_the_other_shows_it(self, served: Served, shop: FakeShop, phone: Any) -> None:
        phone.get(f"{served.address}/mould/1")
        first = phone.current_window_handle
        cut(phone)
        for number in range(4):
            fill(phone, "/note", "Keep the note", text=f"note {number}")
            until(lambda number=number: len(entries(phone)) == number + 1)  # type: ignore[misc]
        cut(phone, False)
        phone.switch_to.new_window("tab")
        phone.get(f"{served.address}/recipes")
        in_page(phone, "Promise.all([waiting.send(), waiting.send()])")
        until(lambda: len(notes(shop)) == 4)
        until(lambda: entries(phone) == [])
        phone.close()
        phone.switch_to.window(first)
        assert notes(shop) == [f"note {number}" for number in range(4)]
        until(lambda: "wait" not in bar(phone))

    def test_a_lease_is_had_by_one_and_runs_out(self, served: Served, phone: Any) -> None:
        phone.get(f"{served.address}/recipes")
        other = "phoneStore.put('notes', {name: 'sending', me: 'another tab', until: Date.now() + %d})"
        had = "oneTab.only(async () => 'had').then((how) => how === oneTab.busy ? 'busy' : how)"
        for left_ms, how in ((5000, "busy"), (-1, "had"), (10**9, "had")):
            in_page(phone, other % left_ms)
            assert in_page(phone, had) == how


class TestNothingKept:
    def test_a_browser_that_keeps_nothing_says_so_and_sends_plainly(
        self, served: Served, shop: FakeShop, phone: Any
    ) -> None:
        source = {"source": "Object.defineProperty(window, 'indexedDB', {value: undefined})"}
        added = phone.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", source)
        phone.get(f"{served.address}/mould/1")
        until(lambda: "This browser keeps nothing" in bar(phone))
        fill(phone, "/note", "Keep the note", text="a hairline")
        until(lambda: "Recorded." in text(phone, ".did"))
        assert notes(shop) == ["a hairline"]
        phone.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", added)


class TestSession:
    def test_refused_in_part_it_is_not_tried_again_and_holds_up_no_other(
        self, served: Served, shop: FakeShop, phone: Any
    ) -> None:
        heron, panel = mould(shop, "Heron").id, mould(shop, "Gate panel, left").id
        phone.get(f"{served.address}/dipping?tank=grey")
        cut(phone)
        for each in (heron, panel):
            tap(phone, f"[name=dip_{each}]")
        tap(phone, "#session button.main")
        until(lambda: bar(phone).startswith("1 waits"))
        assert entries(phone)[0]["about"] == [f"mould/{heron}", f"mould/{panel}"]
        back(phone)
        until(lambda: bar(phone).startswith("Not taken"))
        (entry,) = entries(phone)
        assert entry["refused"]
        assert entry["words"]["todo"].startswith("Gate panel, left: ")
        assert last(shop).mould_id == heron
