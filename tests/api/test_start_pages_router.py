"""From an empty shop to its first mould."""

from __future__ import annotations

import re

import pytest
from fastapi.testclient import TestClient

from api.fakes import FakeShop
from service.reading import Reason, Rejected
from service.records.shop_facts import Site
from service.units import Units
from tests.api.conftest import client_of
from tests.api.scene import plain
from tests.api.test_mould_list_router import TEAL

SITE = {
    "name": "Saltmarsh Bronze",
    "altitude": "4",
    "altitude_unit": "m",
    "time_zone": "Europe/London",
    "units": "metric",
    "day_starts_hour": "7",
    "day_ends_hour": "19",
}


def where(client: TestClient, path: str = "/start") -> str:
    return client.get(path).headers["location"]


class TestAllTheWay:
    def test_each_step_leads_to_the_next(self, newcomer: TestClient, empty: FakeShop) -> None:
        assert where(newcomer, "/") == "/start"
        assert where(newcomer) == "/start/site"
        assert newcomer.post("/start/site", data=SITE).headers["location"] == "/start/room"
        assert empty.site() == Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC)

        assert where(newcomer) == "/start/room"
        room = {"name": "Shell room", "still_air": "0.2", "still_air_unit": "m/s", "key": "room-key-0001"}
        assert newcomer.post("/start/room", data=room).headers["location"] == "/start/sensor"

        assert "Nothing heard yet." in plain(newcomer.get("/start/sensor").text)
        empty.hear("bench")
        assert "Heard: bench: 21.9 °C, 54 %" in plain(newcomer.get("/start/sensor").text)
        newcomer.post("/start/sensor", data={"sensor": "bench", "room_id": "1"})
        text = plain(newcomer.get("/start/sensor").text)
        assert "Hangs in Shell room." in text
        assert "Go on to the recipe" in text

        assert where(newcomer) == "/start/recipe"
        assert "/start/mould?recipe=wader" in newcomer.get("/start/recipe").text
        page = newcomer.get("/start/mould?recipe=wader").text
        assert '<option value="wader" selected>' in page
        assert newcomer.post("/mould/new", data=TEAL).headers["location"] == "/mould/1"
        assert newcomer.get("/").status_code == 200
        board = newcomer.get("/").text
        assert "Teal" in board
        assert re.search(r'<nav .*"/dipping".*"/set-up".*</nav>', board)


class TestSite:
    def test_the_phone_offers_its_own_zone(self, newcomer: TestClient) -> None:
        assert "/static/start.js" in newcomer.get("/start/site").text

    @pytest.mark.parametrize(
        ("change", "words"),
        [
            ({"name": ""}, "“Name of the shop” is empty."),
            (
                {"time_zone": "Europe/Lodnon"},
                "“Europe/Lodnon” is not a time zone. Did you mean Europe/London",
            ),
            ({"altitude": "high"}, "does not start with a number"),
            ({"altitude": "9000"}, "No foundry stands at that height."),
            ({"day_starts_hour": "19"}, "Work must start before it ends"),
            ({"day_ends_hour": "x"}, "is not a whole number"),
            ({"units": "cubits"}, "are no units known here"),
        ],
    )
    def test_what_cannot_be(
        self, newcomer: TestClient, empty: FakeShop, change: dict[str, str], words: str
    ) -> None:
        answer = newcomer.post("/start/site", data={**SITE, **change})
        assert answer.status_code == 422
        assert words in plain(answer.text)
        assert empty.site() is None

    def test_a_height_that_is_no_number_gets_a_height_for_example(self, newcomer: TestClient) -> None:
        page = newcomer.post("/start/site", data={**SITE, "altitude": "high"}).text
        assert "Write it like 120 m or 400 ft." in plain(page)

    def test_feet_come_back_as_feet(self, client: TestClient, shop: FakeShop) -> None:
        in_feet = {**SITE, "altitude": "620", "altitude_unit": "ft", "units": "us"}
        client.post("/start/site", data=in_feet)
        page = client.get("/start/site").text
        assert 'value="620"' in page
        assert "<option selected>ft</option>" in page
        client.post("/start/site", data=SITE)
        assert "<option selected>m</option>" in client.get("/start/site").text

    def test_still_air_is_offered_in_the_shops_own_units(self, newcomer: TestClient) -> None:
        newcomer.post("/start/site", data={**SITE, "units": "us"})
        assert "Still air about 40 ft/min" in plain(newcomer.get("/start/room").text)
        newcomer.post("/start/site", data=SITE)
        assert "Still air about 0.2 m/s" in plain(newcomer.get("/start/room").text)

    def test_an_altitude_left_empty_is_the_sea(self, newcomer: TestClient, empty: FakeShop) -> None:
        newcomer.post("/start/site", data={**SITE, "altitude": ""})
        site = empty.site()
        assert site
        assert site.altitude_m == 0.0

    def test_later_it_shows_what_is_known(self, client: TestClient, shop: FakeShop) -> None:
        page = client.get("/start/site").text
        assert 'value="Saltmarsh Bronze"' in page
        assert '<option value="19" selected>' in page
        assert client.post("/start/site", data={**SITE, "altitude": "12"}).headers["location"] == "/set-up"
        site = shop.site()
        assert site
        assert site.altitude_m == 12.0


class TestRoom:
    def test_two_taps_add_one(self, newcomer: TestClient, empty: FakeShop) -> None:
        for _ in range(2):
            assert (
                newcomer.post("/start/room", data={"name": "Attic", "key": "room-key-0002"}).status_code
                == 303
            )
        assert [room.name for room in empty.rooms()] == ["Attic"]
        assert empty.rooms()[0].still_air_m_s == 0.2

    @pytest.mark.parametrize(
        ("data", "status", "words"),
        [
            ({"name": ""}, 422, "“Name of the room” is empty."),
            ({"name": "Attic", "still_air": "40", "still_air_unit": "m/s"}, 422, "does not move like that"),
            ({"name": "Shell room"}, 409, "There is a room “Shell room” already."),
        ],
    )
    def test_what_cannot_be(self, client: TestClient, data: dict[str, str], status: int, words: str) -> None:
        answer = client.post("/start/room", data=data)
        assert answer.status_code == status
        assert words in plain(answer.text)


class TestSensor:
    def test_shows_how_to_send_a_first_reading(self, newcomer: TestClient) -> None:
        text = plain(newcomer.get("/start/sensor").text)
        assert "mosquitto_pub -h 127.0.0.1 -p 1883 -t shop/bench/air -m" in text
        assert "The broker listens to this machine alone." in text

    def test_without_a_broker_it_says_so(self, empty: FakeShop) -> None:
        from api.settings import ApiSettings

        text = plain(client_of(empty, ApiSettings()).get("/start/sensor").text)
        assert "No broker runs" in text
        assert "mosquitto_pub" not in text

    def test_what_was_not_understood_helps_to_find_out_why(
        self, newcomer: TestClient, empty: FakeShop
    ) -> None:
        empty._rejects.append(
            Rejected(
                "shop/bench/arr", "21", empty.clock.now(), Reason.UNKNOWN_TOPIC, "No pattern fits.", None
            )
        )
        assert "topic shop/bench/arr: No pattern fits." in plain(newcomer.get("/start/sensor").text)

    def test_looks_again_by_itself(self, newcomer: TestClient) -> None:
        assert 'http-equiv="refresh" content="10"' in newcomer.get("/start/sensor").text

    @pytest.mark.parametrize(
        ("data", "status"), [({"sensor": "nobody", "room_id": "1"}, 404), ({"sensor": "bench"}, 422)]
    )
    def test_what_cannot_be(self, client: TestClient, data: dict[str, str], status: int) -> None:
        assert client.post("/start/sensor", data=data).status_code == status
