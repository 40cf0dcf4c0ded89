"""Rooms are added and changed, and what a change does is said."""

from __future__ import annotations

from urllib.parse import unquote

import pytest
from fastapi.testclient import TestClient

from api.fakes import FakeShop
from service.room.room_fittings import RoomFittings
from tests.api.scene import plain

PAGE = "/set-up/rooms"


def test_what_is_there(client: TestClient) -> None:
    text = plain(client.get(PAGE).text)
    assert "Sensors: bench" in text
    assert "moulds:" in text
    assert "worked out anew from their first dip" in text


def test_an_empty_shop(newcomer: TestClient) -> None:
    assert "None yet." in plain(newcomer.get(PAGE).text)


def test_added_once(client: TestClient, shop: FakeShop) -> None:
    data = {"name": "Attic", "still_air": "40 ft/min", "key": "room-key-0009"}
    for _ in range(2):
        answer = client.post(PAGE, data=data)
    assert (
        unquote(answer.headers["location"]) == "/set-up/rooms?done=Attic is there now. Hang a sensor in it."
    )
    attic = shop.rooms()[-1]
    assert attic.name == "Attic"
    assert attic.still_air_m_s == pytest.approx(0.2032)
    assert "No sensor hangs here: its moulds go by guesses." in plain(client.get(PAGE).text)


@pytest.mark.parametrize(
    ("air", "words"),
    [("0.2 m/s", "Warm room is kept."), ("0.5 m/s", "its air at 0.5 m/s. What hangs there was worked")],
)
def test_changed(client: TestClient, shop: FakeShop, air: str, words: str) -> None:
    answer = client.post(f"{PAGE}/1", data={"name": "Warm room", "still_air": air})
    assert words in unquote(answer.headers["location"])
    assert shop.rooms()[0].name == "Warm room"
    assert words in plain(client.get(answer.headers["location"]).text)


@pytest.mark.parametrize(
    ("path", "data", "status", "words"),
    [
        (PAGE, {"name": ""}, 422, "“Name of the room” is empty."),
        (PAGE, {"name": "Shell room"}, 409, "There is a room “Shell room” already."),
        (PAGE, {"name": "Attic", "still_air": "40 m/s"}, 422, "does not move like that"),
        (f"{PAGE}/1", {"name": "", "still_air": "0.3 m/s"}, 422, "“Name of the room” is empty."),
        (f"{PAGE}/1", {"name": "x", "still_air": "fast"}, 422, "fast"),
        (f"{PAGE}/99", {"name": "x", "still_air": "0.3 m/s"}, 404, "There is no room 99."),
    ],
)
def test_what_cannot_be(client: TestClient, path: str, data: dict[str, str], status: int, words: str) -> None:
    answer = client.post(path, data=data)
    assert answer.status_code == status
    assert words in plain(answer.text)


ONE = f"{PAGE}/1"
TOLD = {
    "volume": "5150 ft3",
    "heater": "off",
    "dehumidifier": "off",
    "hand": "bench 2",
    "key": "room-key-77",
}


class TestWhatStandsInIt:
    def test_it_is_shown_with_what_its_readings_taught(self, client: TestClient) -> None:
        text = plain(client.get(ONE).text)
        assert "What stands in Shell room" in text
        assert "Set up here by bench 1" in text
        assert (
            "Its air is renewed about 0.8 times an hour (0.6 to 1.1). At first we only knew 0.3 to 2.2."
            in text
        )
        assert "Besides its moulds, something gives it about 8.6 l/day of water" in text

    def test_it_is_kept_and_shown_again(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.post(f"{ONE}/fittings", data=TOLD)
        assert answer.headers["location"] == "/set-up/rooms/1?did=kept"
        kept = shop.room_desk.kept(1)
        assert kept.fittings.volume_m3 == pytest.approx(145.83, abs=0.01)
        assert kept.said is not None
        assert kept.said.hand == "bench 2"
        assert "145.8 m³." in plain(client.get(PAGE).text)

    def test_a_slip_is_told_at_its_field_and_loses_nothing(self, client: TestClient) -> None:
        answer = client.post(f"{ONE}/fittings", data={**TOLD, "heater": "on", "people": "3"})
        assert answer.status_code == 422
        assert "power is not said. Give it in watts." in plain(answer.text)
        assert 'value="3"' in answer.text
        assert "5150 ft3" in answer.text

    def test_the_files_word_holds_again(self, client: TestClient, shop: FakeShop) -> None:
        shop.room_desk.in_file = {"Shell room": RoomFittings(volume_m3=99.0)}
        assert "What site.toml says of it is passed over." in plain(client.get(ONE).text)
        client.post(f"{ONE}/fittings/away", data={"hand": "bench 1", "key": "room-key-78"})
        assert shop.room_desk.kept(1).fittings.volume_m3 == 99.0
        assert "From site.toml" in plain(client.get(ONE).text)

    def test_of_a_room_nobody_knows(self, client: TestClient) -> None:
        assert client.get(f"{PAGE}/99").status_code == 404
        assert client.post(f"{PAGE}/99/fittings", data=TOLD).status_code == 404
