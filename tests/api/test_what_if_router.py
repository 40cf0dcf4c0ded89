"""What if, and what rooms taught, as JSON."""

from __future__ import annotations

from datetime import timedelta

import pytest
from fastapi.testclient import TestClient

from api.fakes import START, FakeShop
from api.learned_models import LearnedAnew
from api.what_if_models import FURTHEST
from service.learning.effect import EffectKind
from service.room.room_fittings import Runs
from tests.api.scene import mould


def test_what_comes_of_it(client: TestClient, shop: FakeShop) -> None:
    heron = mould(shop, "Heron").id
    at = START + timedelta(hours=2)
    answer = client.post(
        "/api/what-if",
        json={
            "room_id": 1,
            "hang_more": {"number": 4, "like": heron, "at": at.isoformat()},
            "dehumidifier": {"runs": "on"},
            "airing": {"times": 5, "lasts": "30 min"},
            "outside": {"temperature": "6 degC", "humidity": "85 %"},
        },
    )
    found = answer.json()
    assert answer.status_code == 200
    assert found["missing"] == []
    assert found["assumed"] == ["coats under"]
    assert found["more"]["number"] == 4
    assert {"mould_id", "due_now", "due_then", "earliest", "latest"} <= set(found["moulds"][0])
    assert found["air"][0]["humidity_now"] == pytest.approx(0.52)
    assert found["learned"]["numbers"][0]["kind"] == "air changes"
    asked = shop.room_desk.asked[-1]
    assert asked.more is not None
    assert asked.more.at == at
    assert asked.dehumidifier is not None
    assert (asked.dehumidifier.runs, asked.dehumidifier.at) == (Runs.ON, START)
    assert asked.airing is not None
    assert asked.airing.for_s == pytest.approx(1800.0)
    assert asked.outside is not None
    assert asked.outside.temperature_k == pytest.approx(279.15)


def test_a_time_that_is_past_is_now(client: TestClient, shop: FakeShop) -> None:
    client.post("/api/what-if", json={"room_id": 1, "fan": {"on": True, "at": "2020-01-01T00:00:00Z"}})
    asked = shop.room_desk.asked[-1]
    assert asked.fan is not None
    assert asked.fan.at == START


def test_a_time_beyond_all_years_is_none_of_ours(client: TestClient, shop: FakeShop) -> None:
    airing = {"at": "9999-12-31T23:30:00Z", "lasts": "1 h", "times": 4.0}
    answer = client.post("/api/what-if", json={"room_id": 1, "airing": airing})
    assert answer.status_code == 200, answer.text
    asked = shop.room_desk.asked[-1].airing
    assert asked is not None
    assert asked.at == START + FURTHEST


def test_what_must_be_told_first(client: TestClient) -> None:
    found = client.post("/api/what-if", json={"room_id": 2, "fan": {"on": True}}).json()
    assert found["missing"] == ["volume"]
    assert found["moulds"] == []


@pytest.mark.parametrize(
    ("body", "status", "field"),
    [
        ({"room_id": 99}, 404, "room_id"),
        ({"room_id": 1, "hang_more": {"number": 99, "like": 1}}, 422, "hang_more.number"),
        ({"room_id": 1, "heater": {"runs": "warm"}}, 422, "heater.runs"),
        ({"room_id": 1, "hang_more": {"number": 1, "like": 1, "height": "4"}}, 422, "hang_more.height"),
        ({"room_id": 1, "airing": {"times": 99}}, 422, "airing.times"),
    ],
)
def test_what_cannot_be(client: TestClient, body: dict[str, object], status: int, field: str) -> None:
    answer = client.post("/api/what-if", json=body)
    assert answer.status_code == status
    assert answer.json()["error"]["field"] == field


def test_what_rooms_taught(client: TestClient) -> None:
    shell, loft = client.get("/api/learned/rooms").json()
    assert (shell["room"], shell["half_hours"], shell["outdoors"]) == ("Shell room", 288, True)
    assert (loft["half_hours"], loft["since"]) == (0, None)
    assert [number["kind"] for number in shell["numbers"]] == [
        "air changes",
        "water of the moulds",
        "follows outdoors",
        "heat held",
    ]


def test_a_room_is_learned_anew_as_anything_else(client: TestClient, shop: FakeShop) -> None:
    told = {"effect": "room", "of": "1", "text": "a new door", "hand": "bench 1"}
    assert {each.value for each in LearnedAnew} == {*EffectKind, "room"}
    answer = client.post("/api/learned/anew", json=told)
    assert answer.status_code == 201
    assert shop.records.all_facts[-1].body.kind == "learn anew"
    assert client.post("/api/learned/anew", json={**told, "of": "99"}).status_code == 404
