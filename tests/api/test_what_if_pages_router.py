"""The page “What if?”: asked by its address, answered in words, and nothing is recorded."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from api.fakes import FakeShop
from tests.api.scene import mould, plain

PAGE = "/what-if"


def test_before_anything_is_asked(client: TestClient, shop: FakeShop) -> None:
    text = plain(client.get(PAGE).text)
    assert "Nothing is recorded." in text
    assert (
        "145.8 m³; heater 3000 W, as it is set, at 21.0 °C; dehumidifier 20.0 l/day, off; fan 1.0 m/s, off"
        in text
    )
    assert shop.room_desk.asked == []


def test_more_moulds_and_what_they_do_to_the_others(client: TestClient, shop: FakeShop) -> None:
    heron = mould(shop, "Heron").id
    before = len(shop.records.all_facts)
    page = client.get(f"{PAGE}?room=1&number=4&like=mould:{heron}&more_at=16:00")
    text = plain(page.text)
    assert page.status_code == 200
    assert "4 more like Heron at 16:00" in text
    assert "later" in text
    assert "The air gets damper: 56 % at" in text
    assert "The 4 new ones, coat" in text
    assert "The coats under the new ones are taken to be as damp as a dip allows." in text
    assert "follow your local codes" in text
    assert page.text.count("as it would be") == 2 + 1  # both drawings' names, and the words under them
    assert len(shop.records.all_facts) == before


def test_what_runs_already_is_said_sooner(client: TestClient) -> None:
    text = plain(client.get(f"{PAGE}?room=1&dehumidifier=on&dehumidifier_at=15:00").text)
    assert "The dehumidifier on at 15:00" in text
    assert "30 min sooner" in text
    assert "The air gets drier: 47 % at" in text


def test_without_a_volume_it_says_what_to_tell_first(client: TestClient) -> None:
    page = client.get(f"{PAGE}?room=2&fan=on")
    assert "How large is Drying loft? Without its size nobody can say how its air answers." in plain(
        page.text
    )
    assert 'href="/set-up/rooms/2"' in page.text


def test_what_is_known_of_the_room_stands_there(client: TestClient) -> None:
    text = plain(client.get(f"{PAGE}?room=1&fan=on").text)
    assert "Its air is renewed about 0.8 times an hour (0.6 to 1.1)." in text
    assert "From 6 days of readings" in text


@pytest.mark.parametrize(
    ("query", "status", "words"),
    [
        ("room=99&fan=on", 404, "There is no such room."),
        ("room=1&number=99&like=mould:1", 422, "too few or too many moulds"),
        ("room=1&heater=maybe", 422, "“maybe” is not known here."),
        ("room=1&number=2&like=mould:999", 404, "There is no mould number 999 that hangs."),
    ],
)
def test_what_cannot_be_is_told_and_nothing_is_lost(
    client: TestClient, query: str, status: int, words: str
) -> None:
    page = client.get(f"{PAGE}?{query}&airing_minutes=25")
    assert page.status_code == status
    assert words in plain(page.text)
    assert 'value="25"' in page.text


def test_a_shop_without_rooms(newcomer: TestClient) -> None:
    assert "Set up a room first." in plain(newcomer.get(PAGE).text)


def test_it_is_found_from_the_air_and_from_the_rooms(client: TestClient) -> None:
    for page in ("/air", "/set-up/rooms", "/set-up/rooms/1"):
        assert 'href="/what-if?room=1"' in client.get(page).text, page
