"""Pages kept on a phone: shown with their age while there is no connection, and never as if they were now."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from api.fakes import START, FakeShop
from service.clock import FakeClock
from service.records.facts import MouldBody, NoteBody
from service.room.fittings import TankSetUp
from tests.api.axe import barriers
from tests.api.browser import Served, browser, faults, until
from tests.api.phone_in_shed import (
    HOST,
    PHONE,
    bar,
    cut,
    entries,
    fill,
    in_page,
    keep_pages,
    phone_in_shed,
    tap,
    unfold,
)
from tests.api.scene import mould
from tests.api.test_browser import text

pytestmark = pytest.mark.browser


@pytest.fixture
def shop() -> FakeShop:
    return FakeShop.saltmarsh(FakeClock(START), 4)


def tap_link(driver: Any, path: str) -> None:
    driver.execute_script('document.querySelector(`a[href="${arguments[0]}"]`).click()', path)


def kept(driver: Any) -> list[str]:
    found: list[str] = in_page(driver, "phoneStore.all('pages').then((all) => all.map((page) => page.path))")
    return sorted(found)


def noted(shop: FakeShop, name: str) -> list[str]:
    return [f.body.text for f in shop.records.facts(mould(shop, name).id) if isinstance(f.body, NoteBody)]


class TestPlainHttp:
    @pytest.fixture
    def phone(self) -> Iterator[Any]:
        with phone_in_shed() as driver:
            yield driver

    def test_from_mould_to_mould_without_a_connection(self, shop: FakeShop, phone: Any) -> None:
        with Served(shop, HOST) as served:
            phone.get(f"{served.address}/moulds")
            keep_pages(phone)
            tanks = ["/dipping", *(f"/dipping?tank={tank}" for tank in sorted(shop.tanks()))]
            moulds = ["/mould/1", "/mould/2", "/mould/3", "/mould/4", "/moulds"]
            assert kept(phone) == ["/", *tanks, *moulds]
            shop.clock.advance(25 * 60)  # type: ignore[attr-defined]
            minutes = "shopClock.hear(shopClock.now() + 25 * 60000)"  # as if so long had passed
            phone.execute_script(minutes)
            cut(phone)
            tap_link(phone, "/mould/2")
            until(lambda: text(phone, "h1") == "Curlew")
            assert phone.current_url == f"{served.address}/mould/2"
            assert "No connection. As of 14:20, 25 min ago" in text(phone, ".kept-banner")
            mark = "return getComputedStyle(document.querySelector('.drawing'), '::after').content"
            assert phone.execute_script(mark) == '"as of 14:20"'
            assert barriers(phone) == []
            fill(phone, "/note", "Keep the note", text="a hairline")
            until(lambda: "Curlew: Keep the note, 14:45" in bar(phone))
            tap_link(phone, "/moulds")
            until(lambda: text(phone, "h1") == "Moulds")
            tap_link(phone, "/mould/1")
            until(lambda: text(phone, "h1") == "Heron")
            phone.back()
            until(lambda: text(phone, "h1") == "Moulds")
            tap_link(phone, "/air")
            until(lambda: "that page is not kept on this phone" in text(phone, ".kept-missing"))
            tap_link(phone, "/")
            until(
                lambda: (
                    "kept wall"
                    in phone.execute_script("return document.body.className.split(' ').sort().join(' ')")
                )
            )
            assert "As of 14:20" in text(phone, ".kept-banner")
            cut(phone, False)
            phone.execute_script("dispatchEvent(new Event('online'))")
            until(lambda: noted(shop, "Curlew") == ["a hairline"])
            until(lambda: phone.execute_script("return !document.body.classList.contains('kept')"))
            until(lambda: phone.execute_script("return source.readyState") == 1)  # live again
            keep_pages(phone)
            shop.clock.advance(61)  # type: ignore[attr-defined]
            known = shop.records.facts(2)
            shop.start_mould(next(f.body for f in known if isinstance(f.body, MouldBody)), "", "hang-up-0001")
            until(lambda: keep_pages(phone) or "/mould/5" in kept(phone))  # here already for the next cut
            assert faults(phone) == []
            shop.changes.closing = True

    def test_what_is_being_written_is_not_taken_away_and_an_old_form_is_a_new_one(
        self, shop: FakeShop, phone: Any
    ) -> None:
        """The same old page opened twice makes two notes: each showing of its form is one of its own."""
        with Served(shop, HOST) as served:
            phone.get(f"{served.address}/moulds")
            keep_pages(phone)
            cut(phone)
            for number in range(2):
                tap_link(phone, "/mould/2")
                until(lambda: text(phone, "h1") == "Curlew")
                fill(phone, "/note", "Keep the note", text="a hairline")
                until(lambda number=number: len(in_page(phone, "waiting.all()")) == number + 1)  # type: ignore[misc]
                tap_link(phone, "/moulds")
                until(lambda: text(phone, "h1") == "Moulds")
            tap_link(phone, "/mould/1")
            until(lambda: text(phone, "h1") == "Heron")
            unfold(phone, "#note-text")
            phone.find_element("id", "note-text").send_keys("half a sent")
            cut(phone, False)
            phone.execute_script("dispatchEvent(new Event('online'))")
            until(lambda: "The connection is back." in text(phone, ".kept-banner"))
            assert phone.find_element("id", "note-text").get_attribute("value") == "half a sent"
            assert noted(shop, "Curlew") == ["a hairline", "a hairline"]
            shop.end(2, "scrapped", "", "bench 1", "end-key-0001")
            shop.clock.advance(11 * 60)  # type: ignore[attr-defined]
            phone.get(f"{served.address}/moulds")
            keep_pages(phone)
            assert "/mould/2" in kept(phone), "it wants its result"
            shop.changes.closing = True

    def test_a_session_at_a_tank_is_told_without_a_connection(self, shop: FakeShop, phone: Any) -> None:
        shop.keep_tank("old / grey", TankSetUp(), "")
        with Served(shop, HOST) as served:
            phone.get(f"{served.address}/moulds")
            keep_pages(phone)
            assert "/dipping?tank=old%20%2F%20grey" in kept(phone), "whatever signs its name has"
            cut(phone)
            tap_link(phone, "/dipping")
            until(lambda: text(phone, "h1") == "Which tank?")
            tap_link(phone, "/dipping?tank=grey")
            until(lambda: text(phone, "h1") == "The grey tank")
            assert "No connection. As of 14:20" in text(phone, ".kept-banner")
            assert barriers(phone) == []
            tap(phone, "[name=dip_1]")
            until(lambda: text(phone, "#session .main") == "Dipped 1 mould")
            tap(phone, "#session .main")
            until(lambda: "The grey tank: Dipped 1 mould, 14:20" in bar(phone))
            assert [entry["about"] for entry in entries(phone)] == [["mould/1"]]
            cut(phone, False)
            phone.execute_script("dispatchEvent(new Event('online'))")
            until(lambda: mould(shop, "Heron").coats_given == 5)
            shop.changes.closing = True


class TestWorker:
    """This machine's own address counts as https: there the worker opens kept pages anew."""

    def test_a_page_opened_without_a_connection_is_the_kept_one_with_its_age(self, shop: FakeShop) -> None:
        with browser(*PHONE, phone=True) as driver, Served(shop) as served:
            driver.get(f"{served.address}/mould/1")
            in_page(driver, "navigator.serviceWorker.ready")
            driver.get(f"{served.address}/moulds")  # now through the worker, which keeps scripts and styles
            keep_pages(driver)
            shop.changes.closing = True
            served.stop()
            driver.get(f"{served.address}/mould/1")
            until(lambda: "No connection. As of 14:20" in text(driver, ".kept-banner"))
            assert driver.execute_script("return 'kept' in document.documentElement.dataset")
            assert (
                driver.execute_script(
                    "return getComputedStyle(document.querySelector('.kept-banner')).position"
                )
                == "sticky"
            )
            fill(driver, "/note", "Keep the note", text="a hairline")
            until(lambda: "Heron: Keep the note, 14:2" in bar(driver))
            driver.get(f"{served.address}/dipping?tank=grey&did=7")
            until(lambda: text(driver, "h1") == "The grey tank")
            driver.get(f"{served.address}/air")
            assert "that page is not kept on this phone" in text(driver)
            tap(driver, "a")
            until(lambda: "kept" in driver.execute_script("return document.body.className"))
            shop.changes.closing = False
            served.start()
            until(lambda: noted(shop, "Heron") == ["a hairline"])
            until(lambda: driver.execute_script("return !document.body.classList.contains('kept')"))
            shop.changes.closing = True
