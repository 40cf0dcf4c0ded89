"""A board and a phone stand open while the service is killed, comes back, and the network is cut."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from typing import Any

import pytest

from tests.api.browser import browser, until
from tests.api.phone_in_shed import bar, cut, entries, fill
from tests.api.test_browser import text
from tests.benchmarks.bench_boards import cost_of
from tests.end_to_end.running import Running, hang_up, running, set_up_shop

pytestmark = pytest.mark.browser

LATER = "const now = Date.now; Date.now = () => now() + 30000"  # half a minute passes on this screen


def live(driver: Any) -> bool:
    hidden: bool = driver.execute_script("return document.getElementById('no-data').hidden")
    return hidden and driver.execute_script("return Boolean(document.querySelector('.board').dataset.took)")


def silent(driver: Any) -> bool:
    """It says that it hears nothing, and since when; its state is greyed."""
    said = driver.find_element("id", "no-data")
    grey = "silent" in driver.execute_script("return document.body.className")
    return bool(grey and said.is_displayed() and "NO DATA since" in said.text)


def notes(service: Running, mould: int) -> list[str]:
    facts = service.ask(f"/api/moulds/{mould}/facts").body
    return [fact["body"]["text"] for fact in facts if fact["body"]["kind"] == "note"]


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Running, int]]:
    """A running service with one mould on its hook."""
    with running(tmp_path_factory.mktemp("open-board")) as service:
        yield service, hang_up(service, set_up_shop(service), "Curlew")


def test_thirty_boards_hear_each_change(shop: tuple[Running, int]) -> None:
    """What the benchmark of boards measures is there to be measured."""
    cost = asyncio.run(cost_of(shop[0], boards=30, changes=2, quiet_s=0.1))
    assert cost.states >= 60
    assert cost.memory_mb > 0


def test_killed_and_back_under_an_open_board(shop: tuple[Running, int]) -> None:
    service, mould = shop
    with browser(1920, 1080) as wall, browser(390, 844, phone=True) as phone:
        wall.get(service.url)
        until(lambda: live(wall))
        phone.get(f"{service.url}/mould/{mould}")
        service.kill()
        fill(phone, "/note", "Keep the note", text="while it was down")
        until(lambda: "Not recorded yet" in text(phone, ".waiting"))
        wall.execute_script(LATER)
        until(lambda: silent(wall))
        service.start()
        until(lambda: live(wall), 40)
        assert wall.execute_script("return performance.getEntriesByType('navigation').length") == 1
        until(lambda: entries(phone) == [], 40)
        assert notes(service, mould).count("while it was down") == 1
        until(lambda: "Recorded." in text(phone, ".did"))
        for each in (wall, phone):
            cut(each)
        wall.execute_script(
            "source.close(); " + LATER
        )  # what is open already is not cut by the browser's own switch
        until(lambda: silent(wall))
        fill(phone, "/note", "Keep the note", text="while it was cut")
        until(lambda: bar(phone))
        for each in (wall, phone):
            cut(each, False)
        until(lambda: live(wall), 40)
        until(lambda: "while it was cut" in notes(service, mould), 40)
        assert notes(service, mould).count("while it was cut") == 1
