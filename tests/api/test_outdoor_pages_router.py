"""Setting up a forecast of outside in the browser: looked at before it is kept, and every mistake at its field."""

from __future__ import annotations

import json
import re
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient

from api.fakes import START, FakeShop
from service.errors import Unavailable
from service.records.set_up import Part
from tests.api.scene import plain

FORM = {
    "url": "https://weather.example/f.json?key=abc",
    "every": "1 h",
    "topic": "",
    "times": "hours.at",
    "temperature": "hours.temperature",
    "temperature_unit": "degC",
    "humidity": "hours.humidity",
    "humidity_unit": "%",
    "dew_point": "",
    "dew_point_unit": "degC",
    "room": "",
    "hand": "bench 1",
    "key": "outdoor-key-01",
    "do": "keep",
}
PAGE = "/set-up/outdoor"


def forecast(unit: float = 1.0) -> bytes:
    ats = [START.replace(minute=0) + timedelta(hours=i) for i in range(49)]
    rows = [
        {"at": at.isoformat(), "temperature": unit * (4 + 0.1 * i), "humidity": 80}
        for i, at in enumerate(ats)
    ]
    return json.dumps({"hours": rows}).encode()


@pytest.fixture(autouse=True)
def sent(shop: FakeShop) -> None:
    shop.forecast_sent = forecast()


class TestPage:
    def test_a_shop_without_one_is_told_that_all_is_well(self, client: TestClient) -> None:
        page = plain(client.get(PAGE).text)
        assert "None: the rooms are forecast from their own readings." in page
        assert "Without one it looks ahead all the same." in page

    def test_the_set_up_names_it(self, client: TestClient) -> None:
        assert f'<a href="{PAGE}"' in client.get("/set-up").text

    def test_it_is_filled_in_with_what_holds(self, client: TestClient) -> None:
        client.post(PAGE, data={**FORM, "every": "3 h", "temperature_unit": "degF"})
        page = client.get(PAGE).text
        assert 'value="https://weather.example/f.json?key=abc"' in page
        assert re.search(r'<option value="3 h" selected>', page)
        assert re.search(r'name="temperature_unit".*?<option value="degF" selected>', page, re.DOTALL)


class TestLook:
    def test_what_comes_out_is_shown_and_nothing_is_kept(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.post(PAGE, data={**FORM, "do": "look"})
        page = plain(answer.text)
        assert answer.status_code == 200
        assert "Read: 49 hours, from " in page
        assert "4.0 °C" in page
        assert "80 %" in page
        assert 'value="https://weather.example/f.json?key=abc"' in answer.text
        assert shop.set_up(Part.OUTDOOR) == []

    @pytest.mark.parametrize(
        ("wrong", "field", "words"),
        [
            ({"temperature": "hours.warmth"}, "temperature", "There is nothing at “hours.warmth”."),
            ({"temperature_unit": "K"}, "temperature_unit", "Is the unit right?"),
            ({"url": "weather.example"}, "url", ""),
            ({"url": ""}, "url", "It is not said where the forecast comes from."),
            ({"topic": "sky"}, "topic", "not both"),
            ({"humidity": ""}, "humidity", "Neither humidity nor dew point"),
            ({"every": "soon"}, "every", ""),
        ],
    )
    def test_an_error_stands_at_its_field(
        self, client: TestClient, wrong: dict[str, str], field: str, words: str
    ) -> None:
        answer = client.post(PAGE, data={**FORM, **wrong, "do": "look"})
        assert answer.status_code == 422
        assert f'id="e-{field}"' in answer.text
        assert words in plain(answer.text)

    def test_a_server_that_is_away_is_told(self, client: TestClient, shop: FakeShop) -> None:
        shop.forecast_sent = Unavailable("outdoor_unreached", "weather.example is away.", "Try again.", "url")
        answer = client.post(PAGE, data={**FORM, "do": "look"})
        assert answer.status_code == 503
        assert "weather.example is away." in plain(answer.text)


class TestKeep:
    def test_it_holds_and_says_who_said_so(self, client: TestClient, shop: FakeShop) -> None:
        assert client.post(PAGE, data=FORM).status_code == 303
        assert shop.outdoor.now().outdoor.url == FORM["url"]
        assert "None has come yet. Set up here by bench 1, " in plain(client.get(PAGE).text)

    def test_what_came_is_told(self, client: TestClient, shop: FakeShop) -> None:
        client.post(PAGE, data=FORM)
        shop.outdoor.tick()  # type: ignore[attr-defined]
        assert re.search(r"Came \d\d:\d\d, and goes on to \w+ \d\d:\d\d\.", plain(client.get(PAGE).text))

    def test_a_failure_is_told(self, client: TestClient, shop: FakeShop) -> None:
        client.post(PAGE, data=FORM)
        shop.forecast_sent = b"<html>"
        shop.outdoor.tick()  # type: ignore[attr-defined]
        assert "What came is not JSON." in plain(client.get(PAGE).text)

    def test_a_room_of_our_own_alone(self, client: TestClient, shop: FakeShop) -> None:
        room = shop.rooms()[0].name
        assert client.post(PAGE, data={**FORM, "url": "", "room": room}).status_code == 303
        assert f"{room} hangs outside; no forecast is given." in plain(client.get(PAGE).text)

    def test_what_cannot_be_is_not_kept(self, client: TestClient, shop: FakeShop) -> None:
        assert client.post(PAGE, data={**FORM, "temperature_unit": "kg"}).status_code == 422
        assert shop.set_up(Part.OUTDOOR) == []

    def test_taken_away_the_file_holds(self, client: TestClient, shop: FakeShop) -> None:
        client.post(PAGE, data=FORM)
        assert client.post(f"{PAGE}/away", data={"hand": "bench 1"}).status_code == 303
        assert not shop.outdoor.now().outdoor.given
        assert client.post(f"{PAGE}/away", data={}).status_code == 404
