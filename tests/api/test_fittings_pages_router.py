"""Setting up tanks and hooks in the browser, and all of the set-up on one page."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from api.fakes import START, FakeShop
from service.records.facts import TankCheckBody
from service.records.set_up import Part
from service.room.fittings import Hook, HookSetUp, TankSetUp
from tests.api.scene import plain

TANK = {
    "new": "yes",
    "name": "grey",
    "slurry": "fused silica",
    "least_flow": "20",
    "least_flow_unit": "s",
    "most_flow": "25",
    "most_flow_unit": "s",
    "most_temperature": "77",
    "most_temperature_unit": "°F",
    "least_ph": "9,2",
    "hand": "bench 1",
    "key": "tank-key-0001",
}


class TestTanks:
    def test_is_kept_and_offered_first(self, client: TestClient, shop: FakeShop) -> None:
        client.post("/set-up/tanks/one", data={**TANK, "name": "zircon 2", "key": "tank-key-0002"})
        assert client.post("/set-up/tanks/one", data=TANK).status_code == 303
        assert shop.tanks() == ["grey", "zircon 2", "white"]
        page = plain(client.get("/set-up/tanks").text)
        assert "Flow cup: 20 s to 25 s Temperature: at most 25.0 °C pH: at least 9.2" in page
        assert "Set up here by bench 1, 14:20." in page
        assert "white Named by a recipe" in page

    def test_a_check_outside_is_said(self, client: TestClient, shop: FakeShop) -> None:
        client.post("/set-up/tanks/one", data=TANK)
        shop.tank_check(TankCheckBody(tank="grey", flow_s=28.0, ph=9.2), "bench 2", "check-key-01", START)
        page = plain(client.get("/tanks").text)
        assert "Flow cup 28 s: wanted is 20 s to 25 s." in page
        assert "pH 9.2: wanted" not in page

    def test_out_of_use_is_not_offered_and_still_shown(self, client: TestClient, shop: FakeShop) -> None:
        client.post("/set-up/tanks/one", data={**TANK, "out_of_use": "yes"})
        assert shop.tanks() == ["white"]
        assert "out of use" in client.get("/set-up/tanks").text

    @pytest.mark.parametrize(
        ("wrong", "field"),
        [
            ({"name": ""}, "name"),
            ({"most_flow": "10"}, "most_flow"),
            ({"least_flow": "thick"}, "least_flow"),
            ({"least_ph": "sour"}, "least_ph"),
            ({"least_ph": "15"}, "least_ph"),
            ({"most_density": "1", "most_density_unit": "kg/m³"}, "most_density"),
        ],
    )
    def test_an_error_stands_at_its_field(
        self, client: TestClient, shop: FakeShop, wrong: dict[str, str], field: str
    ) -> None:
        answer = client.post("/set-up/tanks/one", data={**TANK, **wrong})
        assert answer.status_code == 422
        assert f'id="e-{field}"' in answer.text
        assert 'value="fused silica"' in answer.text
        assert shop.set_up(Part.TANKS) == []

    def test_the_form_shows_what_holds_and_keeps_it(self, client: TestClient, shop: FakeShop) -> None:
        client.post("/set-up/tanks/one", data=TANK)
        page = client.get("/set-up/tanks/one?name=grey").text
        assert all(f'value="{shown}"' in page for shown in ("20", "25", "9.2", "fused silica"))
        again = client.post("/set-up/tanks/one", data={**TANK, "key": "tank-key-0003"})
        assert (again.status_code, "There is a “grey” already." in plain(again.text)) == (409, True)

    def test_two_taps_are_one(self, client: TestClient, shop: FakeShop) -> None:
        for _ in range(2):
            assert client.post("/set-up/tanks/one", data=TANK).status_code == 303
        assert len(shop.set_up_past(Part.TANKS, "grey")) == 1

    def test_taken_away(self, client: TestClient, shop: FakeShop) -> None:
        shop.keep_tank("red", TankSetUp(), "")
        assert client.post("/set-up/tanks/away", data={"name": "red"}).status_code == 303
        assert "red" not in shop.tanks()
        assert client.post("/set-up/tanks/away", data={"name": "red"}).status_code == 404


class TestHooks:
    def test_several_at_once(self, client: TestClient, shop: FakeShop) -> None:
        data = {"names": "1-3, door", "room_id": "1", "note": "left wall", "key": "hook-key-0001"}
        for _ in range(2):
            assert client.post("/set-up/hooks", data=data).status_code == 303
        assert [hook.name for hook in shop.hooks()] == ["door", "1", "2", "3"]
        assert shop.hooks()[1] == Hook("1", 1, 1)
        page = plain(client.get("/set-up/hooks").text)
        assert "1 Shell room, left wall Heron" in page
        assert "door Shell room, left wall free" in page

    def test_moved_up_and_down(self, client: TestClient, shop: FakeShop) -> None:
        for n in "123":
            shop.keep_hook(n, HookSetUp(room_id=1), "")
        for name, do in (("3", "up"), ("1", "down"), ("3", "up")):
            assert client.post("/set-up/hooks/move", data={"name": name, "do": do}).status_code == 303
        assert [hook.name for hook in shop.hooks()] == ["3", "1", "2"]

    def test_changed_and_taken_away(self, client: TestClient, shop: FakeShop) -> None:
        shop.keep_hook("1", HookSetUp(room_id=1, order=4), "")
        data = {"name": "1", "room_id": "2", "note": "by the fan", "out_of_use": "yes"}
        assert client.post("/set-up/hooks/one", data=data).status_code == 303
        page = client.get("/set-up/hooks/one?name=1").text
        assert 'value="by the fan"' in page
        assert '<option value="2" selected>' in page
        assert shop.hooks() == []
        assert client.post("/set-up/hooks/away", data={"name": "1"}).status_code == 303
        assert client.get("/set-up/hooks/one?name=1").status_code == 404

    @pytest.mark.parametrize(
        ("wrong", "status"),
        [({"names": ""}, 422), ({"names": "1-300"}, 422), ({"room_id": "9"}, 404), ({"names": "door"}, 409)],
    )
    def test_what_cannot_be(
        self, client: TestClient, shop: FakeShop, wrong: dict[str, str], status: int
    ) -> None:
        shop.keep_hook("Door", HookSetUp(room_id=1), "")
        data = {"names": "7", "room_id": "1", "note": "left wall", "key": "hook-key-0001", **wrong}
        answer = client.post("/set-up/hooks", data=data)
        assert answer.status_code == status
        assert 'value="left wall"' in answer.text
        assert len(shop.hooks()) == 1


class TestIndex:
    def test_each_part_with_how_it_stands(self, client: TestClient, shop: FakeShop) -> None:
        page = client.get("/set-up").text
        text = plain(page)
        assert "The shop Saltmarsh Bronze, Europe/London" in text
        assert "Tanks grey, white. As recipes and dips name them" in text
        assert "People and places bench 1, bench 2. All from alerts.toml" in text
        assert "Hooks None yet: a mould&#39;s hook is typed in each time" in text
        for path in ("/start/site", "/set-up/rooms", "/set-up/sensors", "/recipes", "/labels", "/yours"):
            assert f'href="{path}"' in page

    def test_what_was_set_up_is_counted(self, client: TestClient, shop: FakeShop) -> None:
        shop.telling.keep(Part.PEOPLE, "bench 3", {"ways": []}, "", new=True)
        shop.telling.keep_table("night", {"say_before": "1 h"}, "")
        shop.keep_hook("1", HookSetUp(room_id=1), "")
        shop.keep_hook("90", HookSetUp(room_id=1), "")
        text = plain(client.get("/set-up").text)
        assert "bench 3. 1 set up here, the others from alerts.toml" in text
        assert "1 group changed here, the rest as alerts.toml says" in text
        assert "2 hooks, 1 free" in text

    def test_an_empty_shop(self, newcomer: TestClient) -> None:
        assert "Not set up yet" in newcomer.get("/set-up").text
