"""“What if?” on a phone, at a real service: a size is told, four more are thought of, and the answer stands there."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from service.clock import FakeClock
from service.main import Coatbell
from service.records.shop_facts import Site
from service.settings import load_settings
from service.units import Units
from tests.api.axe import barriers
from tests.api.browser import browser, faults, until
from tests.api.test_browser import press
from tests.end_to_end.running import free_port
from tests.service.room.cases import T0, TWO_COATS, h, mould_body, readings

pytestmark = pytest.mark.browser

PHONE = (360, 640)


@pytest.fixture(scope="module")
def shed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Coatbell]:
    """A real service whose clock stands, with a day of air and a mould an hour after its first coat."""
    over = {
        "server": {"port": free_port()},
        "broker": {"port": free_port()},
        "data": {"folder": str(tmp_path_factory.mktemp("shed"))},
    }
    clock = FakeClock(T0)
    service = Coatbell(load_settings(None, over, {}), clock=clock, ticking=False)
    service.start()
    shop = service.shop
    shop.save_site(Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC))
    shop.add_room("Shell room")
    service.records.hear_sensor("wall", T0 - h(30))
    service.records.add_readings(readings(T0 - h(30), 30, every_s=300.0, humidity=0.55))
    shop.place_sensor("wall", 1)
    shop.start_mould(mould_body("Heron", TWO_COATS), "bench 1", "hang-key-001", T0 - h(3))
    shop.dip(1, "", T0 - h(1), "bench 1", "dip-key-0001")
    yield service
    service.stop()


@pytest.fixture(scope="module")
def driver() -> Iterator[Any]:
    with browser(*PHONE, phone=True) as driver:
        yield driver


def go(driver: Any, shed: Coatbell, path: str) -> None:
    driver.get(f"http://127.0.0.1:{shed.settings.server.port}{path}")


def fill(driver: Any, name: str, value: str) -> None:
    script = "const f = document.querySelector(`main [name='${arguments[0]}']`); f.value = arguments[1]"
    driver.execute_script(script, name, value)


def text(driver: Any) -> str:
    return str(driver.execute_script("return document.querySelector('main').innerText"))


def test_from_no_size_to_an_answer(driver: Any, shed: Coatbell) -> None:
    facts = shed.records.last_fact_number()
    go(driver, shed, "/what-if?room=1&number=2&like=mould:1")
    assert "How large is Shell room?" in text(driver)
    driver.find_element("link text", "What stands in Shell room").click()
    until(lambda: driver.find_element("name", "volume"))
    fill(driver, "volume", "60")
    press(driver, "Keep it")
    until(lambda: "Kept." in text(driver))
    go(driver, shed, "/what-if?room=1")
    fill(driver, "number", "6")
    fill(driver, "like", "mould:1")
    fill(driver, "more_at", "08:30")
    press(driver, "Reckon it")
    until(lambda: "6 more like Heron at 08:30" in text(driver))
    told = text(driver)
    assert "later" in told
    assert "The air gets damper" in told
    assert "The 6 new ones, coat 2 (backup): ready about" in told
    assert driver.execute_script("return document.querySelectorAll('.then-doubt').length") == 4
    assert barriers(driver) == []
    assert faults(driver) == []
    assert shed.records.last_fact_number() == facts
