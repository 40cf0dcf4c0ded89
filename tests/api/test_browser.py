"""Board and phone in Chromium: a dip on the phone changes the wall, gloves tap twice, connections come and go."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from api.fakes import START, FakeShop
from service.clock import FakeClock
from service.records.facts import MouldBody, ResultBody, TankCheckBody
from tests.api.browser import Served, browser, faults, until
from tests.api.scene import mould
from tests.service.records.pictures import exif, file_of, jpeg, scene

pytestmark = pytest.mark.browser

PHONE = (390, 844)
WALL = (1920, 1080)


@pytest.fixture
def shop() -> FakeShop:
    return FakeShop.saltmarsh(FakeClock(START))


@pytest.fixture(scope="module")
def wall() -> Iterator[Any]:
    with browser(*WALL) as driver:
        yield driver


@pytest.fixture(scope="module")
def phone() -> Iterator[Any]:
    with browser(*PHONE, phone=True) as driver:
        yield driver


def text(driver: Any, css: str = "body") -> str:
    return str(driver.execute_script("return document.querySelector(arguments[0])?.innerText ?? ''", css))


def press(driver: Any, words: str) -> None:
    driver.execute_script(
        "[...document.querySelectorAll('button')].find(b => b.textContent.trim().startsWith(arguments[0])).click()",
        words,
    )


def row_of(driver: Any, name: str) -> str:
    rows: list[str] = driver.execute_script(
        "return [...document.querySelectorAll('.row')].map(r => r.innerText)"
    )
    return next(row for row in rows if name in row)


class TestDipped:
    def test_on_the_phone_changes_the_wall(self, served: Served, wall: Any, phone: Any) -> None:
        wall.get(served.address)
        assert "coat 5 of 8" in row_of(wall, "Heron")
        phone.get(f"{served.address}/mould/{mould(served.shop, 'Heron').id}")  # type: ignore[arg-type]
        press(phone, "Dipped")
        until(lambda: "Recorded." in text(phone, ".did"))
        assert "Coat 5, backup, dipped from the grey tank, 14:20" in text(phone, ".did")
        until(lambda: "coat 6 of 8" in row_of(wall, "Heron"))
        assert wall.execute_script("return performance.getEntriesByType('navigation').length") == 1
        press(phone, "Undo")
        until(lambda: "coat 5 of 8" in row_of(wall, "Heron"))
        assert faults(wall) == []
        assert faults(phone) == []

    def test_two_taps_are_one_dip(self, served: Served, shop: FakeShop, phone: Any) -> None:
        phone.get(f"{served.address}/mould/{mould(shop, 'Heron').id}")
        phone.execute_script(
            "const b = [...document.querySelectorAll('button')].find(b => b.innerText.startsWith('Dipped'));"
            "b.click(); b.click(); b.click();"
        )
        until(lambda: "Recorded." in text(phone, ".did"))
        assert mould(shop, "Heron").coats_given == 5

    def test_early_asks_for_a_reason(self, served: Served, shop: FakeShop, phone: Any) -> None:
        phone.get(f"{served.address}/mould/{mould(shop, 'Lapwing').id}")
        press(phone, "Dipped")
        until(lambda: "Coat 5 is still damp." in text(phone, ".problem[role=alert]"))
        phone.find_element("id", "dip-reason").send_keys("the pour is booked")
        press(phone, "Dipped")
        until(lambda: "though not ready: the pour is booked" in text(phone, ".did"))

    def test_somebody_elses_dip_shows_on_an_open_phone(
        self, served: Served, shop: FakeShop, phone: Any
    ) -> None:
        heron = mould(shop, "Heron")
        phone.get(f"{served.address}/mould/{heron.id}")
        until(lambda: phone.execute_script("return document.querySelector('.mould-now').dataset.took"))
        shop.dip(heron.id, "grey", None, "bench 2", "bench-two-dip")
        until(lambda: phone.find_element("id", "changed").is_displayed())
        assert "It stands otherwise now." in text(phone, "#changed")
        assert "Wait until 17:20" in text(phone, "#live")


class TestConnection:
    def test_no_data_is_said_and_taken_back(self, served: Served, wall: Any) -> None:
        wall.get(served.address)
        until(lambda: wall.execute_script("return document.querySelector('.board').dataset.took"))
        assert not wall.find_element("id", "no-data").is_displayed()
        served.shop.changes.closing = True  # type: ignore[misc]
        served.stop()
        wall.execute_script(
            "const now = Date.now; Date.now = () => now() + 30000"
        )  # half a minute without a beat
        until(lambda: wall.find_element("id", "no-data").is_displayed())
        assert "NO DATA since 14:20" in text(wall, "#no-data")
        assert "silent" in wall.execute_script("return document.body.className")
        served.shop.changes.closing = False  # type: ignore[misc]
        served.start()
        until(lambda: not wall.find_element("id", "no-data").is_displayed())
        assert wall.execute_script("return document.body.className") == "wall"

    def test_a_tap_without_a_connection_is_sent_when_it_is_back(
        self, served: Served, shop: FakeShop, phone: Any
    ) -> None:
        phone.get(f"{served.address}/mould/{mould(shop, 'Heron').id}")
        shop.changes.closing = True
        served.stop()
        press(phone, "Dipped")
        until(lambda: "Not recorded yet: no connection." in text(phone, ".waiting"))
        assert mould(shop, "Heron").coats_given == 4
        shop.clock.advance(25 * 60)  # type: ignore[attr-defined]
        shop.changes.closing = False
        served.start()
        until(lambda: "Recorded." in text(phone, ".did"))
        heron = mould(shop, "Heron")
        assert heron.coats_given == 5
        assert heron.last_dip_at is not None
        assert 0 < (heron.last_dip_at - START).total_seconds() < 60

    def test_after_a_refusal_the_stream_is_tried_again(self, shop: FakeShop, wall: Any) -> None:
        with Served(shop) as served:
            wall.get(served.address)
            until(lambda: wall.execute_script("return document.querySelector('.board').dataset.took"))
            shop.changes.closing = True  # the stream ends at once, again and again
            until(lambda: wall.execute_script("return source.readyState") != 1)
            shop.changes.closing = False
            shop.note(mould(shop, "Heron").id, "crack", "", "note-key-001")
            until(lambda: wall.execute_script("return source.readyState") == 1)
            shop.changes.closing = True


class TestBell:
    def test_a_new_one_flashes_and_an_old_one_does_not(
        self, served: Served, shop: FakeShop, wall: Any
    ) -> None:
        wall.get(served.address)
        until(lambda: wall.execute_script("return document.querySelector('.board').dataset.took"))
        assert wall.execute_script("return document.querySelectorAll('.row.fresh').length") == 0
        shop.clock.advance(31 * 60)  # type: ignore[attr-defined]
        shop.hear("a change")
        until(lambda: wall.execute_script("return document.querySelectorAll('.row.fresh').length"))
        fresh = wall.execute_script(
            "return [...document.querySelectorAll('.row.fresh .name')].map(r => r.innerText)"
        )
        assert fresh == ["Lapwing"]
        assert "flash" in wall.execute_script("return document.body.className")

    def test_sound_comes_after_one_tap(self, served: Served, wall: Any) -> None:
        wall.get(served.address)
        button = wall.find_element("id", "sound")
        assert button.text == "Sound: off"
        button.click()
        until(lambda: button.text == "Sound: on")
        assert button.get_attribute("aria-pressed") == "true"
        button.click()
        until(lambda: button.text == "Sound: off")


class TestWithoutScripts:
    def test_every_button_still_works(self, served: Served, shop: FakeShop) -> None:
        heron = mould(shop, "Heron")
        with browser(*PHONE, scripts=False) as plain:
            plain.get(f"{served.address}/mould/{heron.id}")
            plain.find_element("css selector", "button.main").click()
            until(lambda: "Recorded." in plain.find_element("css selector", ".did").text)
            assert shop.mould(heron.id).coats_given == 5
            plain.find_element("css selector", ".did button").click()
            until(lambda: shop.mould(heron.id).coats_given == 4)
            plain.get(f"{served.address}/mould/new")
            plain.find_element("css selector", "[name=add_zone]").click()
            until(lambda: len(plain.find_elements("css selector", "fieldset")) == 2)


class TestCameOut:
    def test_failed_with_a_photo(self, served: Served, shop: FakeShop, phone: Any, tmp_path: Path) -> None:
        """On a phone: tick what went wrong, say where, take a photo, press; then see it, large, and undo it."""
        faults(phone)  # those of the tests before
        head = mould(shop, "Portrait head").id
        shop.end(head, "dewaxed", "", "bench 1", "end-key-0001")
        file = tmp_path / "foot.jpg"
        file.write_bytes(file_of(scene((1600, 1200)), exif=exif()).getvalue())
        phone.get(f"{served.address}/mould/{head}")
        assert "How did it come out?" in text(phone, ".what-now")
        box = phone.find_element("css selector", "button.main").rect
        assert box["height"] >= 96
        assert box["y"] + box["height"] <= PHONE[1], "it is on the first screen"
        assert not phone.find_element("id", "fault0-zone").is_displayed()
        phone.find_element("css selector", "label[for=fault0]").click()
        until(lambda: phone.find_element("id", "fault0-zone").is_displayed())
        choose(phone, "fault0-zone", "outside")
        choose(phone, "fault0-coat", "3")
        phone.find_element("id", "failed-camera").send_keys(str(file))
        press(phone, "Failed")
        until(lambda: "Recorded." in text(phone, ".did"))
        assert "Came out failed: run-out at outside, coat 3" in text(phone, ".did")
        assert "Failed: run-out at outside, coat 3" in text(phone, ".what-now")
        image = "const i = document.querySelector('.photos img'); i.scrollIntoView(); return i.naturalWidth"
        until(lambda: phone.execute_script(image) == 360)
        assert phone.execute_script("return document.documentElement.scrollWidth") == PHONE[0]
        assert faults(phone) == []
        phone.find_element("css selector", ".photos a").click()
        until(lambda: phone.execute_script("return document.images[0]?.naturalWidth") == 1600)
        faults(phone)  # the page a browser makes around a picture would be styled, and may not be
        phone.back()
        press(phone, "Undo")
        until(lambda: "How did it come out?" in text(phone, ".what-now"))
        assert len(shop.photos(head)) == 1
        assert faults(phone) == []

    def test_a_photo_that_is_none_is_told_and_the_result_kept(
        self, served: Served, shop: FakeShop, phone: Any, tmp_path: Path
    ) -> None:
        head = mould(shop, "Portrait head").id
        shop.end(head, "scrapped", "", "bench 1", "end-key-0001")
        file = tmp_path / "foot.jpg"
        file.write_bytes(b"no picture")
        phone.get(f"{served.address}/mould/{head}")
        phone.find_element("css selector", "label[for=fault9]").click()
        phone.find_element("id", "failed-album").send_keys(str(file))
        press(phone, "Failed")
        until(lambda: "no picture coatbell can open" in text(phone, ".problem[role=alert]"))
        assert "Came out failed: other" in text(phone, ".did")
        assert len([f for f in shop.records.facts(head) if isinstance(f.body, ResultBody)]) == 1

    def test_too_large_a_photo_is_told_before_it_is_sent(
        self, served: Served, shop: FakeShop, phone: Any, tmp_path: Path
    ) -> None:
        heron = mould(shop, "Heron").id
        file = tmp_path / "huge.jpg"
        file.write_bytes(b"x" * 20_000_001)
        phone.get(f"{served.address}/mould/{heron}")
        unfold(phone, "photos")
        phone.find_element("id", "photo-album").send_keys(str(file))
        press(phone, "Keep the photos")
        until(lambda: "huge.jpg has 20.0 MB; 20 MB is the most." in text(phone, ".waiting"))
        assert shop.photos(heron) == []
        phone.find_element("id", "photo-album").clear()
        small = tmp_path / "small.jpg"
        small.write_bytes(jpeg())
        phone.find_element("id", "photo-album").send_keys(str(small))
        press(phone, "Keep the photos")
        until(lambda: "Recorded. Photo" in text(phone, ".did"))

    def test_a_photo_tapped_without_a_connection_is_sent_when_it_is_back(
        self, served: Served, shop: FakeShop, phone: Any, tmp_path: Path
    ) -> None:
        heron = mould(shop, "Heron").id
        file = tmp_path / "heron.jpg"
        file.write_bytes(jpeg())
        phone.get(f"{served.address}/mould/{heron}")
        unfold(phone, "photos")
        phone.find_element("id", "photo-album").send_keys(str(file))
        shop.changes.closing = True
        served.stop()
        press(phone, "Keep the photos")
        until(lambda: "Not recorded yet: no connection." in text(phone, ".waiting"))
        shop.changes.closing = False
        served.start()
        until(lambda: "Recorded." in text(phone, ".did"))
        assert len(shop.photos(heron)) == 1


def unfold(driver: Any, name: str) -> None:
    driver.execute_script("document.getElementById(arguments[0]).open = true", name)


def choose(driver: Any, name: str, value: str) -> None:
    driver.execute_script("document.getElementById(arguments[0]).value = arguments[1]", name, value)


def overflow(driver: Any) -> tuple[int, int]:
    """By how many pixels a page is wider and higher than its window."""
    wide, high = driver.execute_script(
        "const d = document.documentElement; return [d.scrollWidth - innerWidth, d.scrollHeight - innerHeight]"
    )
    return wide, high


LONG = "W" * 60


def with_long_names(shop: FakeShop) -> int:
    """A mould all of whose names are one unbroken word, with a coat, a note and a check."""
    room = shop.add_room(LONG)
    body = shop.records.facts(mould(shop, "Heron").id)[0].body
    assert isinstance(body, MouldBody)
    zones = tuple(zone.model_copy(update={"name": LONG[i:]}) for i, zone in enumerate(body.zones))
    said = {"name": LONG, "hook": LONG, "piece": LONG * 3, "customer": LONG * 3, "room_id": room.id}
    hung = shop.start_mould(body.model_copy(update={**said, "zones": zones}), LONG, "long-hang")
    shop.dip(hung.id, LONG, None, LONG, "long-dip", LONG * 5)
    shop.note(hung.id, LONG * 5, LONG, "long-note")
    shop.check(hung.id, "still damp", LONG, LONG, "long-check")
    shop.hear(LONG)
    shop.photo(hung.id, file_of(scene()), LONG, "long-photo", None, LONG, 1, LONG * 5)
    shop.tank_check(TankCheckBody(tank=LONG, text=LONG * 5), LONG, "long-tank")
    return hung.id


class TestLongNames:
    @pytest.mark.parametrize("size", [(360, 740), WALL])
    def test_no_page_is_wider_than_its_screen(
        self, shop: FakeShop, served: Served, size: tuple[int, int]
    ) -> None:
        number = with_long_names(shop)
        own = [f"/mould/{number}{rest}" for rest in ("", "/audit", "/change")]
        own += [f"/mould/{number}/fact/{fact.number}" for fact in shop.records.facts(number)[1:]]
        with browser(*size, phone=size != WALL) as driver:
            for page in ("/", "/moulds", "/air", "/tanks", "/messages", "/mould/new", *own):
                driver.get(served.address + page)
                assert text(driver)
                wide = driver.execute_script("return document.documentElement.scrollWidth")
                assert (page, wide) == (page, size[0])


class TestSizes:
    def test_the_big_button_is_the_biggest_thing(self, served: Served, shop: FakeShop, phone: Any) -> None:
        phone.get(f"{served.address}/mould/{mould(shop, 'Heron').id}")
        box = phone.find_element("css selector", "button.main").rect
        assert box["height"] >= 96
        assert box["width"] >= 300
        assert box["y"] + box["height"] <= PHONE[1], "it is on the first screen"
