"""Site, rooms, sensors, recipes, messages and health over JSON."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import datetime, timedelta
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.fakes import START, FakeShop
from api.recipe_models import TOML
from service.alerts.who_is_told import WayNow, WhoIsTold
from service.held import held
from service.records.outbox import AlertRow, DeliveryRow, NewAlert, Outcome, TryRow
from service.room.views import Trouble
from service.units import Units
from service.voice import Language, Voice, speaking

SITE = {"name": "Yard", "altitude": "1200 ft", "time_zone": "America/Denver", "units": "us"}


def alert(delivered_at: datetime | None = None, error: str | None = None) -> AlertRow:
    """An alert on its way to one phone."""
    new = NewAlert(
        "next-dip-due/1/5", "next dip due", "Heron", 1, START, "Heron: dip coat 5", "Grey tank.", "/mould/1"
    )
    sent = DeliveryRow(1, 7, "shop phone", 1, None, START, delivered_at, error, new, START, None)
    return AlertRow(**asdict(new), id=7, opened_at=START, cleared_at=None, deliveries=(sent,))


class TestSite:
    def test_none_yet(self, newcomer: TestClient) -> None:
        assert newcomer.get("/api/site").json() is None

    def test_set_up(self, newcomer: TestClient, empty: FakeShop) -> None:
        answer = newcomer.put("/api/site", json=SITE)
        assert answer.status_code == 200
        assert answer.json()["altitude_m"] == pytest.approx(365.76)
        site = empty.site()
        assert site
        assert (site.name, site.units, site.day_starts_hour) == ("Yard", Units.US, 7)

    @pytest.mark.parametrize(
        ("change", "field"),
        [
            ({"time_zone": "Europe/Saltmarsh"}, "time_zone"),
            ({"altitude": "9000 m"}, "altitude"),
            ({"altitude": "4 kg"}, "altitude"),
            ({"day_starts_hour": 20}, "day_ends_hour"),
            ({"day_ends_hour": 25}, "day_ends_hour"),
            ({"units": "imperial"}, "units"),
            ({"name": ""}, "name"),
        ],
    )
    def test_what_cannot_be(
        self, newcomer: TestClient, empty: FakeShop, change: dict[str, Any], field: str
    ) -> None:
        answer = newcomer.put("/api/site", json={**SITE, **change})
        assert (answer.status_code, answer.json()["error"]["field"]) == (422, field)
        assert empty.site() is None


class TestRooms:
    def test_sensors_that_contradict_each_other(self, client: TestClient, shop: FakeShop) -> None:
        assert client.get("/api/rooms").json()[0]["sensors_differ"] == []
        shop.sensors_differ = ("Sensors differ: bench 55 %, door 5 %: one of them is wrong",)
        found = client.get("/api/rooms").json()[0]
        assert found["sensors_differ"] == list(shop.sensors_differ)
        assert found["sensors_differ_since"] is not None

    def test_with_their_air(self, client: TestClient) -> None:
        rooms = client.get("/api/rooms").json()
        assert [r["room"]["name"] for r in rooms] == ["Shell room", "Drying loft"]
        assert rooms[0]["sensors"][0]["values"][0]["quantity"] == "air_temperature"

    def test_add_one(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.post("/api/rooms", json={"name": "Attic", "still_air": "40 ft/min"})
        assert answer.status_code == 201
        assert answer.json() == {"id": 3, "name": "Attic", "still_air_m_s": pytest.approx(0.2032)}
        assert shop.rooms()[-1].name == "Attic"

    def test_the_same_key_adds_one_room(self, client: TestClient, shop: FakeShop) -> None:
        headers = {"Idempotency-Key": "room-key-0001"}
        answers = [client.post("/api/rooms", json={"name": "Attic"}, headers=headers) for _ in range(2)]
        assert answers[0].json() == answers[1].json()
        assert len(shop.rooms()) == 3

    def test_the_same_key_for_another_room_is_refused(self, client: TestClient) -> None:
        headers = {"Idempotency-Key": "room-key-0001"}
        client.post("/api/rooms", json={"name": "Attic"}, headers=headers)
        answer = client.post("/api/rooms", json={"name": "Cellar"}, headers=headers)
        assert (answer.status_code, answer.json()["error"]["code"]) == (409, "key_reused")

    def test_a_name_that_is_taken(self, client: TestClient) -> None:
        assert client.post("/api/rooms", json={"name": "shell room"}).status_code == 409

    @pytest.mark.parametrize(
        ("speed", "good"), [("0.05 m/s", True), ("0.049 m/s", False), ("10 m/s", True), ("10.1 m/s", False)]
    )
    def test_how_fast_air_can_move(self, client: TestClient, speed: str, good: bool) -> None:
        answer = client.post("/api/rooms", json={"name": "Attic", "still_air": speed})
        assert (answer.status_code == 201) is good

    def test_change_one(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.put("/api/rooms/2", json={"name": "Loft", "still_air": "1 m/s"})
        assert answer.json() == {"id": 2, "name": "Loft", "still_air_m_s": 1.0}
        assert shop.rooms()[1].name == "Loft"


class TestSensors:
    def test_placed_and_not(self, client: TestClient) -> None:
        sensors = {s["name"]: s for s in client.get("/api/sensors").json()}
        assert sensors["window"]["room_id"] is None
        assert sensors["bench"]["freshness"] == "fresh"

    def test_place_one(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.put("/api/sensors/window", json={"room_id": 2})
        assert answer.json()["room_id"] == 2
        assert client.put("/api/sensors/window", json={"room_id": None}).json()["room_id"] is None

    def test_a_name_with_a_slash(self, client: TestClient, shop: FakeShop) -> None:
        shop.hear("gate/left")
        assert client.put("/api/sensors/gate/left", json={"room_id": 1}).json()["name"] == "gate/left"

    @pytest.mark.parametrize(
        ("name", "body", "status"),
        [("nobody", {"room_id": 1}, 404), ("window", {"room_id": 9}, 404), ("window", {}, 422)],
    )
    def test_what_cannot_be(self, client: TestClient, name: str, body: dict[str, Any], status: int) -> None:
        assert client.put(f"/api/sensors/{name}", json=body).status_code == status

    def test_rejects_with_their_reason(self, client: TestClient) -> None:
        (reject,) = client.get("/api/rejects").json()
        assert (reject["reason"], reject["sensor"]) == ("sentinel", "window")


class TestRecipes:
    def test_all(self, client: TestClient) -> None:
        recipes = client.get("/api/recipes").json()
        assert [r["name"] for r in recipes] == ["panel", "wader"]
        assert recipes[1]["steps"][0]["thickness_m"] == 0.0006

    def test_one_with_its_text_that_can_be_sent_back(self, client: TestClient) -> None:
        toml = client.get("/api/recipes/wader").json()["toml"]
        again = client.post("/api/recipes", json={"toml": toml})
        assert again.status_code == 201
        assert again.json()["toml"] == toml

    def test_the_example_is_a_recipe(self, client: TestClient) -> None:
        assert client.post("/api/recipes", json={"toml": TOML}).json()["name"] == "small-bird"
        assert client.get("/api/recipes/small-bird").status_code == 200

    def test_a_wrong_one_says_where(self, client: TestClient) -> None:
        wrong = TOML.replace('thickness = "0.6 mm"', 'thickness = "0.6 kg"')
        answer = client.post("/api/recipes", json={"toml": wrong})
        assert answer.status_code == 422
        assert "0.6 kg" in answer.json()["error"]["message"]
        assert len(client.get("/api/recipes").json()) == 2


class TestMessages:
    def test_told_and_not(self, client: TestClient, shop: FakeShop) -> None:
        shop.alert_rows = [alert(error="time-out"), alert(delivered_at=START)]
        first, second = client.get("/api/alerts").json()
        assert first["deliveries"][0]["error"] == "time-out"
        assert second["deliveries"][0]["delivered_at"] == "2025-12-11T14:20:00Z"
        assert "alert" not in first["deliveries"][0]

    def test_each_attempt(self, client: TestClient, shop: FakeShop) -> None:
        row, later = alert(), START + timedelta(seconds=3)
        tries = (
            TryRow(1, "ntfy", False, START, later, Outcome.UNCLEAR, "no answer within 3 s"),
            TryRow(2, "mail", True, later, None, None, None),
        )
        shop.alert_rows = [replace(row, deliveries=(replace(row.deliveries[0], tries=tries),))]
        (told,) = client.get("/api/alerts").json()
        first, second = told["deliveries"][0]["tries"]
        assert first == {
            "way": "ntfy",
            "repeat": False,
            "begun_at": "2025-12-11T14:20:00Z",
            "ended_at": "2025-12-11T14:20:03Z",
            "outcome": "unclear",
            "words": "no answer within 3 s",
        }
        assert (second["repeat"], second["ended_at"], second["outcome"]) == (True, None, None)

    def test_who_is_told(self, client: TestClient, shop: FakeShop) -> None:
        shop.told_ones = [
            WhoIsTold("bench 1", "everything", "told first", (WayNow("ntfy", START, "answered 404"),))
        ]
        assert client.get("/api/recipients").json() == [
            {
                "name": "bench 1",
                "what": "everything",
                "when": "told first",
                "ways": [{"name": "ntfy", "off_since": "2025-12-11T14:20:00Z", "words": "answered 404"}],
            }
        ]

    def test_only_so_many(self, client: TestClient, shop: FakeShop) -> None:
        shop.alert_rows = [alert()] * 9
        assert len(client.get("/api/alerts?limit=4").json()) == 4

    def test_a_test_goes_out_once_for_one_key(self, client: TestClient, shop: FakeShop) -> None:
        headers = {"Idempotency-Key": "test-key-0001"}
        answers = [client.post("/api/test-message", headers=headers).json() for _ in range(2)]
        assert answers == [{"told": ["console: taken"]}] * 2
        assert shop.messages_sent == 1


class TestHealth:
    def test_well(self, client: TestClient, shop: FakeShop) -> None:
        told = client.get("/api/health").json()
        assert (told["status"], told["moulds"], told["troubles"]) == ("ok", 12, [])
        assert told["board_version"] == shop.changes.version

    def test_in_trouble(self, client: TestClient, shop: FakeShop) -> None:
        shop.troubles.append(Trouble("broker_down", "The broker cannot be reached.", START))
        told = client.get("/api/health").json()
        assert told["status"] == "trouble"
        assert told["troubles"][0]["code"] == "broker_down"

    def test_a_clock_said_to_be_right_is_no_trouble(self, client: TestClient, shop: FakeShop) -> None:
        shop.troubles.append(Trouble("clock_behind", "The clock is behind.", START))
        assert client.get("/api/health").json()["status"] == "trouble"
        assert client.post("/api/clock-is-right").json()["status"] == "ok"
        assert shop.troubles == []


def test_programs_are_told_in_english_what_the_shop_is_told_in_spanish(
    client: TestClient, shop: FakeShop
) -> None:
    with speaking(Voice(Language.SPANISH)):
        kept = held("Board")
    shop.sensors_differ, shop.troubles = (kept,), [Trouble("broker_down", kept, None)]
    assert kept == "Tablero"
    assert client.get("/api/rooms").json()[0]["sensors_differ"] == ["Board"]
    assert client.get("/api/board").json()["troubles"][0]["words"] == "Board"
