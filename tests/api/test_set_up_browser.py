"""Setting up in a real browser: a person with a real far end is added, tested and changed on a phone."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from service.clock import FakeClock
from service.main import Coatbell
from service.records.shop_facts import Site
from service.settings import load_settings
from service.units import Units
from tests.api.browser import browser, faults, until
from tests.api.test_browser import press
from tests.end_to_end.running import free_port
from tests.service.alerts.notifiers.far_end import FarEnd, far_end
from tests.service.alerts.scene import NOW

pytestmark = pytest.mark.browser

PHONE = (360, 640)


@pytest.fixture(scope="module")
def shed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Coatbell]:
    """A real service whose clock stands, with a shop and a room."""
    folder: Path = tmp_path_factory.mktemp("shed")
    over = {
        "server": {"port": free_port()},
        "broker": {"port": free_port()},
        "data": {"folder": str(folder)},
    }
    service = Coatbell(load_settings(None, over, {}), clock=FakeClock(NOW), ticking=False)
    service.start()
    service.shop.save_site(Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC))
    service.shop.add_room("Shell room")
    yield service
    service.stop()


@pytest.fixture(scope="module")
def phone() -> Iterator[FarEnd]:
    with far_end() as server:
        yield server


@pytest.fixture(scope="module")
def driver(shed: Coatbell) -> Iterator[Any]:
    with browser(*PHONE, phone=True) as driver:
        yield driver


def go(driver: Any, shed: Coatbell, path: str) -> None:
    driver.get(f"http://127.0.0.1:{shed.settings.server.port}{path}")


def fill(driver: Any, name: str, value: str) -> None:
    field = driver.find_element("name", name)
    field.clear()
    field.send_keys(value)


def test_a_person_is_added_and_a_test_arrives(driver: Any, shed: Coatbell, phone: FarEnd) -> None:
    go(driver, shed, "/set-up")
    driver.find_element("partial link text", "People and places").click()
    driver.find_element("link text", "Add a person").click()
    fill(driver, "name", "bench 3")
    fill(driver, "way_0_send_to", phone.address("webhook+http", "/bench-three"))
    fill(driver, "works", "never")
    press(driver, "Keep it")
    until(lambda: "“never” names no working hours." in driver.page_source)
    assert driver.find_element("name", "way_0_send_to").get_attribute("value").endswith("/bench-three")
    fill(driver, "works", "Mon-Fri 07:00-17:00")
    press(driver, "Keep it")
    until(lambda: "Kept. It holds from now on." in driver.page_source)
    assert [person.name for person in shed.telling.rules.people] == ["bench 3"]
    press(driver, "Send a test by webhook")
    until(lambda: "bench 3 by webhook: taken" in driver.page_source)
    assert [(got.path, got.content["title"]) for got in phone.received] == [
        ("/bench-three", "coatbell: a test")
    ]
    assert "bench-three" not in driver.page_source
    assert [line for line in faults(driver) if "422" not in line] == []


def test_the_live_service_goes_by_it_in_all_its_parts(shed: Coatbell) -> None:
    """After the person was added, and once the times are changed, without a start."""
    assert [one.name for one in shed.shop.who_is_told()] == ["console", "bench 3"]
    shed.telling.keep_table("power_cut", {"told_from": "1 h"}, "")
    shed.telling.keep_table("push", {"contact": "mailto:you@example.org"}, "")
    assert shed._cuts._told_from_s == 3600.0
    assert shed.shop.push.now().people == ("bench 3",)
    assert shed.shop.push.now().public_key is not None
    assert shed.desk._rules is shed._replies._rules is shed._rules is shed.telling.rules
    assert shed.shop.board().troubles == ()
