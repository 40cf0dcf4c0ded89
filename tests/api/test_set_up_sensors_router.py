"""Sensors are set up on the pages: heard, looked at, adopted, forgotten."""

from __future__ import annotations

import html

import pytest
from fastapi.testclient import TestClient

from api.fakes import FakeShop
from service.records.shop_facts import Site
from service.units import Units
from tests.api.conftest import client_of
from tests.api.scene import plain

KILN = "attic/kiln/state"
LIST, TOPIC = "/set-up/sensors", f"/set-up/sensors/topic?topic={KILN}"


@pytest.fixture
def shop(shop: FakeShop) -> FakeShop:
    shop.listening.hear(KILN, {"t": "21.4", "battery": "97"})
    return shop


def fields(**more: str) -> dict[str, str]:
    said = {
        "topic": KILN,
        "sensor": "kiln",
        "meaning-0": "air_temperature|degC",
        "meaning-1": "",
        "room_id": "1",
    }
    return {**said, "do": "keep", "hand": "bench 1", "key": "adopt-key-0001", **more}


def adopt(client: TestClient, **more: str) -> tuple[int, str]:
    answer = client.post("/set-up/sensors/topic", data=fields(**more))
    return answer.status_code, answer.headers.get("location") or html.unescape(plain(answer.text))


class TestList:
    def test_what_is_heard_and_not_read(self, client: TestClient) -> None:
        text = plain(client.get(LIST).text)
        assert "attic/kiln/state" in text.split("Read")[0]
        assert "Comes about every 60 s." in text
        assert f'href="{TOPIC}"' in client.get(LIST).text

    def test_a_mistyped_one_is_helped(self, shop: FakeShop) -> None:
        shop.listening.hear("shop/bench/arr", {None: "1"}, meant="shop/bench/air")
        assert "Did you mean shop/bench/air?" in plain(client_of(shop).get(LIST).text)

    def test_nothing_heard(self, newcomer: TestClient) -> None:
        assert "Nothing heard yet." in plain(newcomer.get(LIST).text)

    def test_where_it_comes_from(self, client: TestClient) -> None:
        adopt(client)
        text = plain(client.get(f"{LIST}?adopted=kiln").text)
        assert "kiln is read from now on." in text
        assert "Set up here by bench 1 at 14:20." in text
        assert "kiln, hangs in Shell room." in text

    def test_one_set_up_and_not_heard_can_still_be_forgotten(
        self, client: TestClient, shop: FakeShop
    ) -> None:
        adopt(client)
        shop.listening._sent.clear()
        text = plain(client.get(LIST).text)
        assert "Not heard since coatbell started." in text
        assert "Read it no more" in text

    @pytest.mark.parametrize(
        "hostile", ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "{{ 7*7 }}"]
    )
    def test_hostile_names_and_messages_are_shown_as_they_are(self, shop: FakeShop, hostile: str) -> None:
        shop.listening.hear(f"x/{hostile}", {hostile: hostile})
        client = client_of(shop)
        for page in (client.get(LIST), client.get("/set-up/sensors/topic", params={"topic": f"x/{hostile}"})):
            assert page.status_code == 200
            assert "<script>alert" not in page.text
            assert "<img" not in page.text
            assert html.escape(hostile).replace("&quot;", "&#34;") in page.text


class TestTopic:
    def test_what_is_in_it_before_anything_is_kept(self, client: TestClient, shop: FakeShop) -> None:
        text = plain(client.get(TOPIC).text)
        assert "21.4 °C, air temperature; plausible. Kept as 294.55 K." in text
        assert 'value="kiln"' in client.get(TOPIC).text
        assert shop.listening.tables == []

    def test_one_not_heard(self, client: TestClient) -> None:
        assert client.get("/set-up/sensors/topic?topic=nobody").status_code == 404

    def test_looking_keeps_nothing(self, client: TestClient, shop: FakeShop) -> None:
        status, text = adopt(client, do="look", **{"meaning-0": "air_temperature|degF"})
        assert status == 200
        assert "-5.9 °C, air temperature; plausible." in text
        assert shop.listening.tables == []

    def test_adopted(self, client: TestClient, shop: FakeShop) -> None:
        assert adopt(client) == (303, "/set-up/sensors?adopted=kiln")
        (table,) = shop.listening.tables
        assert table == {
            "pattern": KILN,
            "sensor": "kiln",
            "values": [{"quantity": "air_temperature", "unit": "degC", "field": "t"}],
        }
        assert next(one.room_id for one in shop.sensors() if one.name == "kiln") == 1

    def test_in_a_new_shop_it_leads_on_to_the_recipe(self, newcomer: TestClient, empty: FakeShop) -> None:
        empty.save_site(Site("Saltmarsh Bronze", 4.0, "Europe/London", Units.METRIC))
        empty.add_room("Shell room", 0.2)
        empty.listening.hear(KILN, {"t": "21.4"})
        onward = '<a class="button main" href="/start/recipe">'
        assert onward not in newcomer.get(f"{LIST}?adopted=kiln").text
        assert adopt(newcomer)[0] == 303
        assert onward in newcomer.get(f"{LIST}?adopted=kiln").text

    def test_where_moulds_hang_it_leads_nowhere_else(self, client: TestClient) -> None:
        assert "/start/" not in client.get(f"{LIST}?adopted=kiln").text

    def test_implausible_is_asked_about_once(self, client: TestClient, shop: FakeShop) -> None:
        shop.listening.hear(KILN, {"t": "214", "battery": "97"})
        assert "214.0 °C, air temperature: implausible. Is the unit right?" in plain(client.get(TOPIC).text)
        status, text = adopt(client)
        assert status == 422
        assert "As it stands this would not be taken." in text
        assert "Keep it all the same" in text
        assert adopt(client, all_the_same="yes")[0] == 303

    def test_a_scale_hangs_in_no_room(self, client: TestClient, shop: FakeShop) -> None:
        assert adopt(client, sensor="hook 7", room_id="", **{"meaning-0": "weight|kg"})[0] == 303
        assert next(one.room_id for one in shop.sensors() if one.name == "hook 7") is None

    @pytest.mark.parametrize(
        ("more", "status", "words"),
        [
            ({"sensor": ""}, 422, "“Name of the sensor” is empty."),
            ({"meaning-0": ""}, 422, "No number of this message is to be read."),
            ({"meaning-0": "air_temperature|kg"}, 422, "kg"),
            ({"room_id": "9"}, 404, "room"),
            ({"room_id": "x"}, 422, "is not a whole number"),
        ],
    )
    def test_what_cannot_be_is_told_and_what_was_said_stays(
        self, client: TestClient, more: dict[str, str], status: int, words: str
    ) -> None:
        got, text = adopt(client, **more)
        assert got == status
        assert words in text

    def test_changing_shows_what_holds(self, client: TestClient) -> None:
        adopt(client, **{"meaning-0": "air_temperature|degF"})
        page = client.get(TOPIC).text
        assert '<option value="air_temperature|degF" selected>' in page
        assert '<option value="1" selected>' in page

    def test_forgotten(self, client: TestClient, shop: FakeShop) -> None:
        adopt(client)
        answer = client.post("/set-up/sensors/forget", data={"topic": KILN, "take_down": "yes"})
        assert (answer.status_code, answer.headers["location"]) == (303, LIST)
        assert shop.listening.tables == []
        assert next(one.room_id for one in shop.sensors() if one.name == "kiln") is None
