"""A mould moved with one tap."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from api.fakes import FakeShop
from service.room.fittings import HookSetUp
from tests.api.scene import key_in, mould, plain


@pytest.fixture
def path(shop: FakeShop) -> str:
    return f"/mould/{mould(shop, 'Heron').id}"


def test_hooks_that_were_set_up_stand_beside_those_in_use(
    client: TestClient, shop: FakeShop, path: str
) -> None:
    shop.keep_hook("21", HookSetUp(room_id=1), "bench 1")
    shop.keep_hook("22", HookSetUp(room_id=1, out_of_use=True), "bench 1")
    text = plain(client.get(f"{path}/move").text)
    assert "Now on hook 1, Shell room" in text
    assert "hook 21 free hook 2 Curlew" in text
    assert "hook 22" not in text


def test_one_tap_moves_it_and_undo_brings_it_back(client: TestClient, shop: FakeShop, path: str) -> None:
    key = key_in(client.get(f"{path}/move").text)
    data = {"key": key, "hook": "21", "room_id": "1", "hand": "bench 2"}
    answer = client.post(f"{path}/move", data=data)
    assert answer.status_code == 303
    told = client.get(answer.headers["location"]).text
    assert "Recorded. Hook 21 instead of 1, 14:20, bench 2" in plain(told)
    assert mould(shop, "Heron").hook == "21"
    number = answer.headers["location"].rpartition("=")[2]
    client.post(f"{path}/fact/{number}/withdraw", data={"key": "undo-key-0001", "hand": "bench 2"})
    assert mould(shop, "Heron").hook == "1"


def test_a_hook_that_was_typed_and_another_room(client: TestClient, shop: FakeShop, path: str) -> None:
    data = {"key": "move-key-0001", "hook_other": "by the door", "room_id": "2"}
    assert client.post(f"{path}/move", data=data).status_code == 303
    moved = mould(shop, "Heron")
    assert (moved.hook, moved.room.name) == ("by the door", "Drying loft")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"room_id": "1"}, "“Hook” is empty."),
        ({"room_id": "9", "hook": "4"}, "There is no room 9."),
        ({"room_id": "1", "hook_other": "x" * 61}, "at most 60"),
    ],
)
def test_what_cannot_be_is_told_and_nothing_is_lost(
    client: TestClient, shop: FakeShop, path: str, data: dict[str, str], words: str
) -> None:
    answer = client.post(f"{path}/move", data={"key": "move-key-0001", **data})
    assert answer.status_code >= 400
    assert words in plain(answer.text)
    assert 'value="move-key-0001"' in answer.text
    assert mould(shop, "Heron").hook == "1"
