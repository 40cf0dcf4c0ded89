"""A real service, a real broker and a real phone's browser: an odd sensor is adopted and shows up in the air."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.api.axe import barriers
from tests.api.browser import browser, faults, until
from tests.end_to_end.running import Running, running, set_up_shop
from tests.parts import need

pytestmark = pytest.mark.browser
WIDTH, HEIGHT, TARGET_PX = 360, 640, 82
KILN = "zigbee2mqtt/kiln corner"
SMALL = """
const to_hit = ["a", "button:not(.default)", "input:not([type=hidden], [type=checkbox])", "select", "summary"];
return [...document.querySelectorAll(to_hit.map((what) => `main ${what}`).join())]
  .map((e) => [e, e.getBoundingClientRect()])
  .filter(([, box]) => box.height > 0 && Math.min(box.height, box.width) < arguments[0] - .1)
  .map(([e]) => e.outerHTML.slice(0, 90));
"""
FINE_PRINT = """
return [...document.querySelectorAll("main *")]
  .filter((e) => [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim()))
  .filter((e) => e.getBoundingClientRect().height > 1 && parseFloat(getComputedStyle(e).fontSize) < 17.9)
  .map((e) => e.outerHTML.slice(0, 90));
"""
TOO_WIDE = "return document.documentElement.scrollWidth > innerWidth"


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(tmp_path_factory.mktemp("set-up")) as started:
        set_up_shop(started)
        started.send(KILN, '{"temperature": 70.5, "humidity": 0.48, "battery": 97}')
        started.send("x/<script>alert(1)</script>", "<img src=x onerror=alert(1)>")
        yield started


@pytest.fixture(scope="module")
def phone(service: Running) -> Iterator[Any]:
    with browser(WIDTH, HEIGHT, phone=True) as driver:
        driver.set_script_timeout(60)
        yield driver


def find(driver: Any, selector: str) -> Any:
    return driver.find_element(need("selenium.webdriver.common.by").By.CSS_SELECTOR, selector)


def tap(driver: Any, selector: str) -> None:
    """A list that is renewed while somebody looks may take a row away under the thumb: once more, then."""

    def tapped() -> bool:
        driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", find(driver, selector))
        find(driver, selector).click()
        return True

    until(tapped)


def words(driver: Any) -> str:
    return str(find(driver, "main").text)


def test_an_odd_sensor_is_adopted_with_a_few_taps(phone: Any, service: Running) -> None:
    phone.get(f"{service.url}/set-up/sensors")
    until(lambda: KILN in words(phone))
    tap(phone, f'a[href$="topic={KILN.replace(" ", "%20")}"]')
    until(lambda: "21.4 °C, air temperature; plausible. Kept as 294.539 K." in words(phone))
    assert "48 %, humidity; plausible." in words(phone)

    select = need("selenium.webdriver.support.ui").Select
    meaning = select(find(phone, "#f-meaning-0"))
    meaning.select_by_value("air_temperature|degC")
    until(lambda: "70.5 °C, air temperature: implausible. Is the unit right?" in words(phone))
    meaning.select_by_value("air_temperature|degF")
    until(lambda: "21.4 °C" in words(phone))
    name = find(phone, "#f-sensor")
    name.clear()
    name.send_keys("kiln")
    tap(phone, "button.main")

    until(lambda: "kiln is read from now on." in words(phone))
    phone.get(f"{service.url}/air")
    until(lambda: phone.refresh() or "kiln: 21.4 °C, 48 %" in words(phone))  # type: ignore[func-returns-value]
    service.send(KILN, '{"temperature": 71.1, "humidity": 0.49}')
    until(lambda: phone.refresh() or "kiln: 21.7 °C, 49 %" in words(phone))  # type: ignore[func-returns-value]
    assert faults(phone) == []


def test_a_recipe_is_changed_with_a_thumb(phone: Any, service: Running) -> None:
    phone.get(f"{service.url}/recipes/wading-bird/change")
    tap(phone, "#f-s2-step > summary")
    wait = find(phone, "#f-s2-least_wait")
    wait.clear()
    wait.send_keys("90 min")
    tap(phone, 'button[value="like 2"]')
    until(lambda: "Coat 8 backup, grey, 1.1 mm, 90 min" in words(phone))
    tap(phone, "button.main")
    until(lambda: "Yours, version 1 of" in words(phone))
    phone.get(f"{service.url}/recipes/wading-bird/compare?a=coatbell&b=now")
    assert "Coats 3 to 8, backup: least wait 1 h → 90 min" in words(phone)


PAGES = [
    "/set-up/sensors",
    "/set-up/sensors/topic?topic=shop/bench/air",
    "/set-up/rooms",
    "/recipes",
    "/recipes/wading-bird",
    "/recipes/wading-bird/change",
    "/recipes/wading-bird/versions",
    "/recipes/wading-bird/compare?a=coatbell&b=now",
    "/recipes/new?like=wading-bird",
    "/start/room",
    "/start/recipe",
]


def test_every_page_is_for_wet_gloves_and_bars_nobody(phone: Any, service: Running) -> None:
    """One browser, one test: starting it costs more than all the looks."""
    for page in PAGES:
        phone.get(service.url + page)
        phone.execute_script("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
        assert barriers(phone) == [], page
        assert phone.execute_script(SMALL, TARGET_PX) == [], page
        assert phone.execute_script(FINE_PRINT) == [], page
        assert not phone.execute_script(TOO_WIDE), page
