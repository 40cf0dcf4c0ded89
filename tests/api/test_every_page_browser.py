"""Every page a person can open, by day and by night, on a phone in a wet glove and on a desk's screen.

Nobody is barred (axe), nothing is wider than its screen, and on the phone what is pressed is 15 mm high and letters are
large enough. The wall-board on its own screens is in `test_board_browser`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from fastapi.routing import APIRoute

from api.app import PAGES
from api.fakes import START, WADER, FakeShop
from service.clock import FakeClock
from service.records.facts import Problem, TankCheckBody
from service.records.recipe_files import write_recipe
from service.room.fittings import HookSetUp, TankSetUp
from tests.api.axe import barriers
from tests.api.browser import Served, browser, faults
from tests.api.conftest import client_of
from tests.api.scene import mould
from tests.service.failures.making import shop as make
from tests.service.records.pictures import file_of, scene

pytestmark = pytest.mark.browser

PHONE, DESK = (360, 640), (1920, 1080)
GLOVE_PX = 82
"""15 mm on a phone whose 360 px are some 67 mm wide (measured on common phones; no source)."""
LEAST_TYPE_PX = 18

NO_PAGES = {
    "/live": "a stream of what the board shows",
    "/live/mould/{mould_id}": "a stream of what a mould's page shows",
    "/mould/{mould_id}/scales": "a part of the mould's page",
    "/sw.js": "the worker's script",
    "/start": "leads on to the step that comes next",
    "/start/mould": "leads on to /mould/new",
}
SMALL_ALL_THE_SAME = {
    "a.skip": "for keyboards, out of sight otherwise",
    "button.default": "never seen: it is what Enter means",
    "svg a": "a dot: a thumb takes the list under it, where each is large enough",
}
TARGETS = """
const [least, exceptions] = arguments;
const all = "a, button, select, textarea, summary, label.tick, label:has([type=checkbox], [type=radio]), "
  + "input:not([type=hidden], [type=checkbox], [type=radio])";
const words = (n) => n.nodeType === 3 && /[\\p{L}\\d]/u.test(n.data);
const inText = (e) => e.matches("a") && [...e.parentElement.childNodes].some(words);
return [...document.querySelectorAll(all)]
  .filter((e) => e.checkVisibility({ visibilityProperty: true }) && !e.matches(exceptions) && !inText(e))
  .filter((e) => { const box = e.getBoundingClientRect(); return box.height > 0 && box.height < least - .1; })
  .map((e) => `${Math.round(e.getBoundingClientRect().height)} px: ${e.outerHTML.slice(0, 120)}`);
"""
FINE_PRINT = """
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
const small = new Set();
for (let n = walk.nextNode(); n; n = walk.nextNode()) {
  const e = n.parentElement;
  if (!n.data.trim() || !e.checkVisibility() || e.closest("svg, script, datalist, .skip, .unseen, .default")) continue;
  const size = parseFloat(getComputedStyle(e).fontSize);
  if (size < arguments[0]) small.add(`${size} px: ${e.outerHTML.slice(0, 120)}`);
}
return [...small];
"""
ARE_THERE = "return arguments[0].filter((css) => document.querySelector(css))"
UNFOLD = "for (const part of document.querySelectorAll('main details')) part.open = true"
AT_NIGHT = "document.documentElement.dataset.light = 'night'"
COLOURS = ["color-contrast"]
WIDTH = "return document.documentElement.scrollWidth"


@pytest.fixture(scope="module")
def shop() -> FakeShop:
    """With something on every page."""
    shop = FakeShop.saltmarsh(FakeClock(START))
    shop.shells = make(60, 9, failing=0.3, planted=True)
    shop.show_weight("hoist", 14.2)
    shop.show_surface("probe 2", 290.0)
    shop.listening.hear("zigbee2mqtt/kiln corner", {"temperature": "20.5", "humidity": "48"})
    shop.keep_tank("old grey", TankSetUp(out_of_use=True), "bench 1")
    shop.keep_hook("door", HookSetUp(room_id=1), "bench 1")
    heron = mould(shop, "Heron").id
    shop.note(heron, "at the cup", "bench 1", "wrong-key-01", problem=Problem.CRACK)
    shop.photo(heron, file_of(scene()), "bench 1", "photo-key-01", text="the cup")
    shop.tank_check(TankCheckBody(tank="grey", flow_s=24.0), "bench 2", "check-key-1")
    shop.put_sensor_on(heron, "probe 2", "hollow base", "bench 1", "on-key-0001")
    shop.record_face(heron, 291.5, "outside", "bench 1", "face-key-001")
    shop.learn_anew("draught", "1/3", "the fan was moved", "bench 1", "anew-key-001")
    _another_version(shop)
    shop.end(mould(shop, "Dunlin").id, "dewaxed", "", "bench 2", "end-key-0001")
    return shop


def _another_version(shop: FakeShop) -> None:
    for title in ("Waders", "Waders, our way"):
        shop.recipes.keep(write_recipe(WADER.model_copy(update={"title": title})), "bench 1")


def addresses(shop: FakeShop) -> dict[str, list[str]]:
    """By their route: where each page is looked at, more than once where it has several faces."""
    heron, gate, dunlin = (mould(shop, name).id for name in ("Heron", "Gate panel, left", "Dunlin"))
    recorded = {fact.body.kind: fact.number for fact in shop.records.facts(heron)}
    check = shop.tank_checks()[0].number
    link = shop.link(shop.ring(heron)).rpartition("/")[0]
    others = [m.id for m in shop.board().moulds if m.stage in ("drying", "dry", "final dry")]
    people, times = "/set-up/people", "/set-up/times"
    several = {
        "/mould/{mould_id}": [f"/mould/{number}" for number in (heron, gate, dunlin, *others[:2])],
        "/mould/{mould_id}/fact/{number}": [
            f"/mould/{heron}/fact/{recorded[kind]}" for kind in ("dip", "face", "sensor on")
        ],
        "/mould/{mould_id}/audit": [f"/mould/{heron}/audit", f"/mould/{dunlin}/audit"],
        "/dipping": ["/dipping", "/dipping?tank=grey"],
        "/tanks/fact/{number}": [f"/tanks/fact/{check}"],
        "/failures/{kind}/{factor}": ["/failures/run-out/early-dips"],
        "/recipes/copy": ["/recipes/copy", "/recipes/copy?like=wader"],
        "/recipes/{name}/compare": ["/recipes/wader/compare?a=1&b=coatbell"],
        "/set-up/sensors/topic": ["/set-up/sensors/topic?topic=zigbee2mqtt/kiln%20corner"],
        "/set-up/people/{which}": [f"{people}/person", f"{people}/person?name=bench%201", f"{people}/place"],
        "/set-up/times/{table}": [f"{times}/{table}" for table in ("quiet_hours", "room", "push")],
        "/set-up/tanks/one": ["/set-up/tanks/one", "/set-up/tanks/one?name=grey"],
        "/set-up/rooms/{room_id}": ["/set-up/rooms/1", "/set-up/rooms/2"],
        "/what-if": [
            "/what-if",
            f"/what-if?room=1&number=4&like=mould:{heron}&dehumidifier=on",
            "/what-if?room=2&fan=on",
        ],
        "/set-up/hooks/one": ["/set-up/hooks/one?name=door"],
        "/r/{token}": [link],
        "/r/{token}/{tap}": [f"{link}/on-my-way"],
    }
    plain = {"{mould_id}": str(heron), "{name}": "wader", "{number}": "1"}
    return {route: several.get(route) or [_filled(route, plain)] for route in routes()}


def _filled(route: str, values: dict[str, str]) -> str:
    for name, value in values.items():
        route = route.replace(name, value)
    return route


def routes() -> list[str]:
    """Every address at which the browser may ask for something to show."""
    every = [route for part in PAGES for route in part.router.routes if isinstance(route, APIRoute)]
    return [route.path for route in every if "GET" in (route.methods or ()) and route.path not in NO_PAGES]


def walk(driver: Any, shop: FakeShop) -> Iterator[str]:
    """Each page open in the browser, all of it unfolded; what fails is told together at the end."""
    with Served(shop) as served:
        for address in ("/api/docs", *(a for some in addresses(shop).values() for a in some)):
            driver.get(served.address + address)
            driver.execute_script(UNFOLD)
            yield address
        shop.changes.closing = True


def test_no_address_is_left_out(shop: FakeShop) -> None:
    """And each answers with a page."""
    client = client_of(shop)
    for some in addresses(shop).values():
        for address in some:
            assert "{" not in address
            answer = client.get(address)
            assert (address, answer.status_code) == (address, 200)
            assert answer.headers["content-type"].startswith("text/html"), address
    assert set(NO_PAGES) <= {
        route.path for part in PAGES for route in part.router.routes if isinstance(route, APIRoute)
    }


def test_on_a_phone(shop: FakeShop) -> None:
    found: list[tuple[str, Any]] = []
    used = set[str]()
    with browser(*PHONE, phone=True) as driver:
        for address in walk(driver, shop):
            small = driver.execute_script(TARGETS, GLOVE_PX, ", ".join(SMALL_ALL_THE_SAME))
            used.update(driver.execute_script(ARE_THERE, list(SMALL_ALL_THE_SAME)))
            small += driver.execute_script(FINE_PRINT, LEAST_TYPE_PX)
            small += at_fault(driver, PHONE[0])
            driver.execute_script(AT_NIGHT)  # when only the colours are others, here as on a desk
            small += [f"at night: {each}" for each in barriers(driver, rules=COLOURS)]
            found += [(address, each) for each in small]
        assert found == []
        assert used == set(SMALL_ALL_THE_SAME), "no exception outlives its reason"
        assert faults(driver) == []


def test_on_a_desk(shop: FakeShop) -> None:
    with browser(*DESK) as driver:
        found = [(address, each) for address in walk(driver, shop) for each in at_fault(driver, DESK[0])]
    assert found == []


def at_fault(driver: Any, width: int) -> list[str]:
    """What bars people from this page, and whether it is too wide."""
    found, wide = barriers(driver), driver.execute_script(WIDTH)
    return [*found, f"{wide} px wide"] if wide > width else found
