"""Rooms are added and changed, and what a change does is said."""

from __future__ import annotations

from urllib.parse import unquote

import pytest
from fastapi.testclient import TestClient

from api.fakes import FakeShop
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
