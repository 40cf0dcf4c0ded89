"""Rooms, sensors, and what was not taken."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient

from api.fakes import START, FakeShop, silenced
from service.reading import Quantity
from tests.api.axe import barriers
from tests.api.browser import Served, browser, faults
from tests.api.conftest import client_of
from tests.api.scene import plain


class TestPage:
    def test_air_of_every_room_and_how_old(self, client: TestClient) -> None:
        text = plain(client.get("/air").text)
        assert "Shell room 21.9 °C, 54 %, air 0.2 m/s (assumed) Air measured just now" in text
        assert "Fading: forecast from level, trend and daily swing of 3 days" in text

    def test_every_sensor_and_where_it_hangs(self, client: TestClient) -> None:
        text = plain(client.get("/air").text)
        assert "window: 21.9 °C, 54 %" in text
        assert "it hangs nowhere yet" in text

    def test_a_scale_need_hang_nowhere(
        self, client: TestClient, shop: FakeShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        window = next(sensor for sensor in shop.sensors() if sensor.room_id is None)
        scale = replace(window, name="scale", values=((Quantity.WEIGHT, 4.2, START),))
        monkeypatch.setattr(shop, "sensors", lambda: [scale])
        text = plain(client.get("/air").text)
        assert "scale: 4.20 kg" in text
        assert "nowhere" not in text
        assert "scale hangs in" not in plain(client.get("/start/sensor").text)

    @pytest.mark.parametrize("days", [1, 3, 7, 14])
    def test_over_as_many_days_as_asked(self, client: TestClient, days: int) -> None:
        page = client.get(f"/air?days={days}").text
        assert f'<a href="/air?days={days}" aria-current="page">' in page
        assert f"Shell room: air over {days} day" in page
        assert page.count('class="chart on-wide"') == page.count('class="chart on-narrow"') == 2

    def test_not_over_others(self, client: TestClient) -> None:
        answer = client.get("/air?days=2")
        assert answer.status_code == 422
        assert "The air is not drawn over 2 days. Choose 1, 3, 7 or 14." in plain(answer.text)

    def test_silent_ones(self, shop: FakeShop) -> None:
        text = plain(client_of(silenced(shop, 40)).get("/air").text)
        assert "bench: silent since 13:39" in text

    def test_those_that_contradict_each_other(self, shop: FakeShop) -> None:
        shop.sensors_differ = ("Sensors differ: bench 55 %, door 5 %: one of them is wrong",)
        assert shop.sensors_differ[0] in plain(client_of(shop).get("/air").text)

    def test_what_was_not_taken_and_why(self, client: TestClient) -> None:
        text = plain(client.get("/air").text)
        assert (
            "shellroom/window 85 °C is what a probe sends when it was switched on and has not measured yet."
            in text
        )

    def test_a_payload_with_markup_stays_text(self, shop: FakeShop) -> None:
        shop._rejects = [replace(shop._rejects[0], payload="<script>alert(1)</script>")]
        assert "<script>alert" not in client_of(shop).get("/air").text

    def test_what_a_sensor_sent_in_vain_says_when(
        self, shop: FakeShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        bad = replace(shop.sensors()[0], last_reject="It jumped.", last_reject_at=START - timedelta(hours=1))
        monkeypatch.setattr(shop, "sensors", lambda: [bad])
        assert "Last not taken, 13:20: It jumped." in plain(client_of(shop).get("/air").text)

    def test_nothing_set_up_yet(self, newcomer: TestClient) -> None:
        text = plain(newcomer.get("/air").text)
        assert "None was heard yet." in text
        assert "Every message was taken." in text


class TestChange:
    def test_place_a_sensor(self, client: TestClient, shop: FakeShop) -> None:
        assert client.post("/air/sensor", data={"sensor": "window", "room_id": "2"}).status_code == 303
        assert {s.name: s.room_id for s in shop.sensors()}["window"] == 2

    def test_take_it_down(self, client: TestClient, shop: FakeShop) -> None:
        client.post("/air/sensor", data={"sensor": "bench", "room_id": ""})
        assert {s.name: s.room_id for s in shop.sensors()}["bench"] is None

    def test_add_a_room_once(self, client: TestClient, shop: FakeShop) -> None:
        for _ in range(2):
            data = {"name": "Attic", "still_air": "1", "still_air_unit": "m/s", "key": "room-key-0001"}
            assert client.post("/air/room", data=data).status_code == 303
        assert [(r.name, r.still_air_m_s) for r in shop.rooms()][2:] == [("Attic", 1.0)]

    def test_change_a_room(self, client: TestClient, shop: FakeShop) -> None:
        assert client.post("/air/room/1", data={"name": "Shed", "still_air": "0.3 m/s"}).status_code == 303
        assert (shop.rooms()[0].name, shop.rooms()[0].still_air_m_s) == ("Shed", 0.3)

    @pytest.mark.parametrize(
        ("path", "data", "status", "words"),
        [
            ("/air/room", {"name": ""}, 422, "“Name of the room” is empty."),
            ("/air/room/9", {"name": "Shed"}, 404, "There is no room 9."),
            ("/air/room/1", {"name": "Shed", "still_air": "0.3 kg"}, 422, "is not a speed"),
            ("/air/sensor", {"sensor": "nobody", "room_id": "1"}, 404, "No sensor “nobody” was ever heard."),
            ("/air/sensor", {"sensor": "bench", "room_id": "loft"}, 422, "is not a whole number"),
        ],
    )
    def test_what_cannot_be(
        self, client: TestClient, path: str, data: dict[str, str], status: int, words: str
    ) -> None:
        answer = client.post(path, data=data)
        assert answer.status_code == status
        assert words in plain(answer.text)


@pytest.mark.browser
def test_nothing_bars_anybody_and_no_chart_is_cut(shop: FakeShop) -> None:
    with Served(shop) as served, browser(1920, 1080) as driver:
        for width, height, shown in ((1920, 1080, "on-wide"), (360, 640, "on-narrow")):
            size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
            driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
            driver.get(f"{served.address}/air?days=3")
            assert barriers(driver) == []
            assert driver.execute_script("return document.documentElement.scrollWidth") <= width
            assert driver.execute_script(CHARTS) == [shown] * 2
        assert faults(driver) == []


CHARTS = """
const seen = [...document.querySelectorAll('.chart')].filter(e => e.getBoundingClientRect().width);
const out = (e, r) => [...e.querySelectorAll('text')].some(t => {
  const b = t.getBoundingClientRect(); return b.left < r.left - 2 || b.right > r.right + 2; });
return seen.map(e => out(e, e.getBoundingClientRect()) ? 'cut' : e.classList[1]);
"""
