"""Tanks for programs."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.fakes import START, FakeShop
from service.records.facts import TankCheckBody

KEY = {"idempotency-key": "tank-key-0001"}
CHECK = {
    "tank": "grey",
    "flow": "24 s",
    "temperature": "68 degF",
    "density": "1.65 g/cm3",
    "ph": 9.6,
    "water_added": "400 ml",
    "hand": "bench 2",
}


def check(client: TestClient, **told: Any) -> Any:
    return client.post("/api/tanks/checks", json={"tank": "grey", **told}, headers=KEY)


def test_every_tank_with_its_last_checks(client: TestClient, shop: FakeShop) -> None:
    shop.tank_check(TankCheckBody(tank="grey", ph=9.5), "bench 1", "k1", START - timedelta(hours=2))
    shop.tank_check(TankCheckBody(tank="grey", ph=9.6), "bench 1", "k2", START - timedelta(hours=1))
    grey, white = client.get("/api/tanks").json()
    assert (grey["name"], white["name"]) == ("grey", "white")
    assert grey["last"] == grey["checks"][0]
    assert [one["ph"] for one in grey["checks"]] == [9.6, 9.5]
    assert grey["age_s"] == 3600.0
    assert (white["last"], white["age_s"], white["checks"]) == (None, None, [])


def test_twenty_checks_at_most(client: TestClient, shop: FakeShop) -> None:
    for i in range(25):
        at = START - timedelta(hours=i)
        shop.tank_check(TankCheckBody(tank="grey", flow_s=10.0 + i), "", f"key {i}", at)
    found = client.get("/api/tanks").json()[0]["checks"]
    assert [one["flow_s"] for one in found] == [10.0 + i for i in range(20)]


def test_a_check_is_recorded_once(client: TestClient, shop: FakeShop) -> None:
    first, again = (check(client, **CHECK) for _ in range(2))
    assert first.status_code == 201
    assert first.json() == again.json()
    assert first.json()["mould_id"] is None
    assert first.json()["says"].startswith("The grey tank checked: flow cup 24 s, 20.0 °C, 1.65 g/cm³")
    (fact,) = shop.tank_checks()
    assert isinstance(fact.body, TankCheckBody)
    assert fact.body.water_added_kg == pytest.approx(0.39928)


@pytest.mark.parametrize(
    ("told", "field", "words"),
    [
        ({}, "flow", "Nothing is said of the tank"),
        ({"flow": "24"}, "flow", "has no unit"),
        ({"flow": 24}, "flow", "has no unit"),
        ({"flow": "700 s"}, "flow", "must be at most 600 s"),
        ({"temperature": "100 degC"}, "temperature", "must be at most 60 °C"),
        ({"density": "1 kg"}, "density", "is not a density"),
        ({"ph": 15}, "ph", "must be at most 14"),
        ({"water_added": "3 m"}, "water_added", "no amount of water"),
        ({"colour": "grey"}, "colour", "not known here"),
    ],
)
def test_what_cannot_be(client: TestClient, told: dict[str, Any], field: str, words: str) -> None:
    answer = check(client, **told)
    assert answer.status_code == 422
    assert answer.json()["error"]["field"] == field
    assert words in answer.json()["error"]["message"]


def test_corrected_by_its_fields(client: TestClient, shop: FakeShop) -> None:
    number = check(client, **CHECK).json()["number"]
    path = f"/api/facts/{number}/correct"
    answer = client.post(path, json={"flow": "25 s", "ph": None, "hand": "bench 1"}, headers={})
    assert answer.status_code == 201
    (fact,) = shop.tank_checks()
    assert isinstance(fact.body, TankCheckBody)
    assert (fact.body.flow_s, fact.body.ph, fact.body.temperature_k) == (25.0, None, pytest.approx(293.15))
    assert client.post(f"/api/facts/{fact.number}/withdraw", json={}).status_code == 201
    assert shop.tank_checks() == []
