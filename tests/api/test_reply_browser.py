"""Who comes, in Chromium: a message's link, one tap, shown on the board; and the board's bell until somebody does."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from api.fakes import START, FakeShop
from service.alerts.kinds import Kind
from service.alerts.replies import Said
from service.alerts.rules import read_rules
from service.clock import FakeClock
from service.room.views import MouldNow
from tests.api.browser import Served, browser, faults, until
from tests.api.scene import mould

pytestmark = pytest.mark.browser

PHONE = (360, 640)
WALL = (1920, 1080)
BUTTON_PX = 15 / 25.4 * 96
"""15 mm at CSS's 96 px an inch (CSS Values and Units 3, section 6.2)."""
BUTTONS = "return [...document.querySelectorAll('main button')].map(b => b.getBoundingClientRect().height)"


@pytest.fixture
def shop() -> FakeShop:
    return FakeShop.saltmarsh(FakeClock(START))


@pytest.fixture
def heron(shop: FakeShop) -> MouldNow:
    return mould(shop, "Heron")


@pytest.fixture(scope="module")
def phone() -> Iterator[Any]:
    with browser(*PHONE, phone=True) as driver:
        yield driver


def text(driver: Any, css: str = "body") -> str:
    return str(driver.execute_script("return document.querySelector(arguments[0])?.innerText ?? ''", css))


def body_data(driver: Any, name: str) -> str:
    return str(driver.execute_script("return document.body.dataset[arguments[0]] ?? ''", name))


def loaded(driver: Any) -> None:
    until(lambda: driver.execute_script("return document.querySelector('.board').dataset.took"))


class TestOneTap:
    def test_from_the_message_to_the_board(
        self, served: Served, shop: FakeShop, heron: MouldNow, phone: Any
    ) -> None:
        link = shop.link(shop.ring(heron.id))
        with browser(*WALL) as wall:
            wall.get(served.address)
            loaded(wall)
            phone.get(served.address + link)  # the one tap
            until(lambda: "You are on the way to Heron, since 14:20. bench 2 sees it." in text(phone))
            until(lambda: "bench 1 is on the way, since 14:20" in text(wall))
            wide = phone.execute_script("return document.documentElement.scrollWidth")
            assert wide <= PHONE[0]
            assert min(phone.execute_script(BUTTONS)) >= BUTTON_PX
            phone.execute_script(
                "[...document.querySelectorAll('button')].find(b => b.innerText === 'Take it back').click()"
            )
            until(lambda: "bench 1 is on the way" not in text(wall))
            assert faults(wall) == []
            assert faults(phone) == []

    def test_an_old_page_opened_again_says_nothing(
        self, served: Served, shop: FakeShop, heron: MouldNow, phone: Any
    ) -> None:
        row = shop.ring(heron.id)
        link = shop.link(row)
        phone.get(served.address + link)
        until(lambda: "You are on the way" in text(phone))
        shop.reply_to_mould(heron.id, "bench 1", Said.TAKEN_BACK)
        for again in (link, link.rpartition("/")[0]):
            phone.get(served.address + again)
            until(lambda: "On my way" in text(phone))
            seconds_pass(phone, 0.5)
            assert "You are" not in text(phone)
        assert shop.board().hands == ()

    def test_without_script_it_takes_the_button(
        self, served: Served, shop: FakeShop, heron: MouldNow
    ) -> None:
        link = shop.link(shop.ring(heron.id))
        with browser(*PHONE, scripts=False) as plain:
            plain.get(served.address + link)
            assert shop.board().hands == ()
            button = plain.find_element("css selector", "button[value='on my way']")
            assert button.size["height"] >= BUTTON_PX
            button.click()
            until(lambda: "You are on the way to Heron" in plain.find_element("tag name", "main").text)
        assert [hand.name for hand in shop.board().hands] == ["bench 1"]


@pytest.fixture
def wall() -> Iterator[Any]:
    """A screen that wants a tap before it sounds, as browsers do."""
    with browser(*WALL, plays_at_once=False) as driver:
        yield driver


def strikes(driver: Any) -> int:
    return int(body_data(driver, "strikes") or "0")


def turn_on(wall: Any) -> int:
    """Switch the sound on; how often it has struck by then."""
    wall.find_element("id", "sound").click()
    until(lambda: body_data(wall, "sound") == "on")
    return int(until(lambda: strikes(wall)))


def repeat_every(wall: Any, seconds: float) -> None:
    wall.execute_script("document.body.dataset.repeatS = arguments[0]", str(seconds))


def seconds_pass(wall: Any, seconds: float) -> None:
    wall.set_script_timeout(30)
    wall.execute_async_script("setTimeout(arguments[arguments.length - 1], 1000 * arguments[0])", seconds)


class TestSound:
    def test_a_new_bell_strikes_once_and_not_again_after_a_reload(
        self, served: Served, shop: FakeShop, wall: Any
    ) -> None:
        lapwing = mould(shop, "Lapwing")
        wall.get(served.address)
        loaded(wall)
        before = turn_on(wall)
        shop.clock.advance(3600)  # type: ignore[attr-defined]
        shop._changed()
        assert mould(shop, "Lapwing").stage is not lapwing.stage
        until(lambda: strikes(wall) == before + 1)
        assert body_data(wall, "rhythm") == "fresh"
        assert "flash" in str(wall.execute_script("return document.body.className"))
        wall.refresh()
        loaded(wall)
        ask = wall.find_element("id", "ask-sound")
        until(ask.is_displayed)
        assert ask.text == "Tap here: this screen is silent"
        assert ask.size["width"] == WALL[0]
        assert ask.size["height"] >= BUTTON_PX
        assert strikes(wall) == 0
        ask.click()
        until(lambda: body_data(wall, "sound") == "on")
        assert not ask.is_displayed()
        assert strikes(wall) == 1  # the tap is answered; nothing more
        seconds_pass(wall, 2)
        assert strikes(wall) == 1
        assert faults(wall) == []

    def test_what_came_while_it_was_loaded_anew_is_not_lost(
        self, served: Served, shop: FakeShop, wall: Any
    ) -> None:
        wall.get(served.address)
        loaded(wall)
        turn_on(wall)
        wall.get("about:blank")
        shop.clock.advance(3600)  # type: ignore[attr-defined]
        wall.get(served.address)
        loaded(wall)
        assert "flash" in str(wall.execute_script("return document.body.className"))
        wall.find_element("id", "ask-sound").click()
        until(lambda: strikes(wall) == 1)

    def test_it_strikes_again_until_somebody_comes(
        self, served: Served, shop: FakeShop, heron: MouldNow, wall: Any
    ) -> None:
        wall.get(served.address)
        loaded(wall)
        assert body_data(wall, "repeatS") == "300"
        before = turn_on(wall)
        repeat_every(wall, 1)
        seconds_pass(wall, 3)
        assert strikes(wall) == before, "nothing was told, so nothing waits"
        shop.ring(heron.id)
        until(lambda: strikes(wall) >= before + 2)
        assert body_data(wall, "rhythm") == "again"
        shop.reply_to_mould(heron.id, "bench 1", Said.ON_MY_WAY)
        until(lambda: "bench 1 is on the way" in text(wall))
        so_far = strikes(wall)
        seconds_pass(wall, 3)
        assert strikes(wall) == so_far

    def test_what_cannot_wait_has_a_rhythm_of_its_own(
        self, served: Served, shop: FakeShop, heron: MouldNow, wall: Any
    ) -> None:
        wall.get(served.address)
        loaded(wall)
        before = turn_on(wall)
        shop.ring(heron.id, Kind.LONGEST_WAIT_NEAR)
        until(lambda: strikes(wall) == before + 1)
        assert body_data(wall, "rhythm") == "urgent"

    def test_in_quiet_hours_only_what_cannot_wait(
        self, served: Served, shop: FakeShop, heron: MouldNow, wall: Any
    ) -> None:
        shop.reply_to_people(read_rules('[quiet_hours]\nfrom = "14:00"\nuntil = "23:00"\n'))
        wall.get(served.address)
        loaded(wall)
        before = turn_on(wall)
        repeat_every(wall, 1)
        shop.ring(heron.id)
        until(lambda: wall.execute_script("return document.querySelector('[data-waits]') !== null"))
        seconds_pass(wall, 3)
        assert strikes(wall) == before
        shop.ring(heron.id, Kind.LONGEST_WAIT_NEAR)
        until(lambda: strikes(wall) > before)

    def test_off_stays_off(self, served: Served, shop: FakeShop, heron: MouldNow, wall: Any) -> None:
        wall.get(served.address)
        loaded(wall)
        before = turn_on(wall)
        wall.find_element("id", "sound").click()
        until(lambda: wall.find_element("id", "sound").text == "Sound: off")
        shop.ring(heron.id, Kind.LONGEST_WAIT_NEAR)
        until(lambda: wall.execute_script("return document.querySelector('[data-urgent]') !== null"))
        seconds_pass(wall, 1)
        assert strikes(wall) == before
        wall.refresh()
        loaded(wall)
        seconds_pass(wall, 1.5)
        assert not wall.find_element("id", "ask-sound").is_displayed()

    def test_a_screen_that_cannot_sound_says_so(self, served: Served, wall: Any) -> None:
        lost = "window.AudioContext = class { constructor() { throw new Error('no loudspeaker'); } }"
        wall.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": lost})
        wall.get(served.address)
        loaded(wall)
        wall.find_element("id", "sound").click()
        until(wall.find_element("id", "no-sound").is_displayed)
        assert "This screen cannot sound." in text(wall, "#no-sound")
        assert wall.find_element("id", "sound").text == "Sound: off"

    def test_a_browser_that_keeps_nothing_still_sounds(
        self, served: Served, shop: FakeShop, wall: Any
    ) -> None:
        closed = "Object.defineProperty(window, 'localStorage', { get() { throw new Error('closed'); } })"
        wall.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": closed})
        wall.get(served.address)
        loaded(wall)
        before = turn_on(wall)
        shop.clock.advance(3600)  # type: ignore[attr-defined]
        shop._changed()
        until(lambda: strikes(wall) == before + 1)
        assert faults(wall) == []

    def test_who_wants_no_motion_gets_none(self, served: Served, shop: FakeShop, wall: Any) -> None:
        still = [{"name": "prefers-reduced-motion", "value": "reduce"}]
        wall.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": still})
        wall.get(served.address)
        loaded(wall)
        shop.clock.advance(3600)  # type: ignore[attr-defined]
        shop._changed()
        until(lambda: wall.execute_script("return document.body.classList.contains('flash')"))
        look = "const s = getComputedStyle(document.body, '::after'); return [s.animationName, s.opacity]"
        assert wall.execute_script(look) == ["none", "1"]
