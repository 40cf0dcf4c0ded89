"""Moulds and the board over JSON."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.fakes import FakeShop
from tests.api.conftest import client_of
from tests.api.scene import mould

TEAL: dict[str, Any] = {
    "name": "Teal",
    "room_id": 1,
    "recipe": "wader",
    "height": "38 cm",
    "wax_mass": "4 lb",
    "wanted_by": "2025-12-19T12:00:00Z",
    "zones": [
        {"name": "outside", "kind": "open face", "height": "15 in", "width": "20 cm"},
        {
            "name": "base",
            "kind": "pocket",
            "height": "20 cm",
            "width": "10 cm",
            "depth": "80 mm",
            "mouth": "3 cm",
        },
    ],
    "hand": "bench 1",
}


class TestBoard:
    def test_holds_what_the_wall_shows(self, client: TestClient, shop: FakeShop) -> None:
        board = client.get("/api/board").json()
        assert board["site"]["name"] == "Saltmarsh Bronze"
        assert [m["name"] for m in board["moulds"]] == [m.name for m in shop.board().moulds]
        assert board["version"] == shop.changes.version
        assert board["rooms"][0]["temperature_k"] == pytest.approx(295.05, abs=0.1)
        assert len(board["rooms"][0]["last_day"]) == 145

    def test_an_empty_shop_has_an_empty_one(self, newcomer: TestClient) -> None:
        board = newcomer.get("/api/board").json()
        assert (board["site"], board["moulds"], board["rooms"]) == (None, [], [])


class TestRead:
    def test_one(self, client: TestClient, shop: FakeShop) -> None:
        heron = mould(shop, "Heron")
        told = client.get(f"/api/moulds/{heron.id}").json()
        assert (told["name"], told["stage"], told["recipe"]) == ("Heron", "ready", "wader")
        assert told["says"]["what_now"] == "Dip coat 5 of 8, backup, grey tank"
        assert len(told["layers"]) == 8
        assert told["zones"][0]["surface_temperature_k"] == 292.4
        assert told["due_at"] == "2025-12-11T14:00:00Z"
        assert (told["due_early_at"], told["due_late_at"]) == (None, None)

    def test_how_sure_its_hour_is(
        self, client: TestClient, shop: FakeShop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        heron = mould(shop, "Heron")
        early, late = heron.started_at, heron.started_at + timedelta(hours=3)
        about = heron.started_at + timedelta(hours=1)
        sure = replace(heron, due_early_at=early, due_late_at=late, about_at=about, sureness_usual=True)
        monkeypatch.setattr(shop, "mould", lambda mould_id: sure)
        told = client.get(f"/api/moulds/{heron.id}").json()
        assert datetime.fromisoformat(told["due_early_at"]) == early
        assert datetime.fromisoformat(told["due_late_at"]) == late
        assert datetime.fromisoformat(told["about_at"]) == about
        assert told["sureness_usual"] is True

    @pytest.mark.parametrize(("query", "count"), [("", 12), ("?ended=false", 11), ("?ended=true", 1)])
    def test_ended_or_not(self, client: TestClient, shop: FakeShop, query: str, count: int) -> None:
        shop.end(mould(shop, "Portrait head").id, "dewaxed", "", "", "end-key-0001")
        assert len(client.get(f"/api/moulds{query}").json()) == count

    def test_facts(self, client: TestClient, shop: FakeShop) -> None:
        facts = client.get(f"/api/moulds/{mould(shop, 'Heron').id}/facts").json()
        assert [f["body"]["kind"] for f in facts] == ["mould", "dip", "dip", "dip", "dip"]
        assert facts[0]["body"]["recipe"]["name"] == "wader"

    def test_audit(self, client: TestClient, shop: FakeShop) -> None:
        audit = client.get(f"/api/moulds/{mould(shop, 'Heron').id}/audit").json()
        assert audit["chain_intact"] is True
        assert len(audit["coats"]) == 8
        assert audit["coats"][0]["faults"] == ["No measured air for 40 min of the wait"]
        assert audit["coats"][7]["faults"] == []
        assert audit["coats"][0]["temperature_range_k"] == [293.9, 294.9]
        assert None in [p["temperature_k"] for p in audit["chart"]]

    @pytest.mark.parametrize("path", ["", "/facts", "/audit"])
    def test_no_such_mould(self, client: TestClient, path: str) -> None:
        answer = client.get(f"/api/moulds/99{path}")
        assert (answer.status_code, answer.json()["error"]["code"]) == (404, "mould_unknown")


class TestStart:
    def test_hangs_it_up(self, client: TestClient, shop: FakeShop) -> None:
        answer = client.post("/api/moulds", json=TEAL)
        assert answer.status_code == 201
        told = answer.json()
        assert (told["name"], told["stage"], told["coats_total"]) == ("Teal", "to dip", 8)
        body = shop.records.all_facts[-1].body
        assert body.kind == "mould"
        assert body.height_m == pytest.approx(0.38)
        assert body.wax_mass_kg == pytest.approx(1.814, abs=0.001)
        assert body.zones[0].height_m == pytest.approx(0.381)
        assert body.zones[1].depth_m == pytest.approx(0.08)

    def test_the_same_key_hangs_it_up_once(self, client: TestClient, shop: FakeShop) -> None:
        headers = {"Idempotency-Key": "hang-teal-01"}
        ids = {client.post("/api/moulds", json=TEAL, headers=headers).json()["id"] for _ in range(2)}
        assert len(ids) == 1
        assert len(shop.all_moulds()) == 13

    @pytest.mark.parametrize(
        ("change", "status", "code", "field"),
        [
            ({"recipe": "herring"}, 404, "recipe_unknown", "recipe"),
            ({"room_id": 9}, 404, "room_unknown", "room_id"),
            ({"zones": []}, 422, "value_wrong", "zones"),
            ({"name": ""}, 422, "value_wrong", "name"),
            ({"height": "6 m"}, 422, "value_wrong", "height"),
            ({"height": "-1 cm"}, 422, "value_wrong", "height"),
            ({"wax_mass": "4 cm"}, 422, "unit_wrong", "wax_mass"),
            ({"wax_mass": "501 kg"}, 422, "value_wrong", "wax_mass"),
            ({"name": " "}, 422, "blank", "name"),
            ({"name": "Teal\nand more"}, 422, "not_one_line", "name"),
            ({"hook": "1\n2"}, 422, "not_one_line", "hook"),
            ({"zones": [TEAL["zones"][0], TEAL["zones"][0]]}, 422, "zone_twice", "zones"),
            ({"zones": [{**TEAL["zones"][0], "name": "a\nb"}]}, 422, "not_one_line", "zones[0].name"),
            ({"zones": [{**TEAL["zones"][0], "height": "0.9 mm"}]}, 422, "value_wrong", "zones[0].height"),
            ({"zones": [{**TEAL["zones"][1], "depth": "3.1 m"}]}, 422, "value_wrong", "zones[0].depth"),
            ({"zones": [{**TEAL["zones"][1], "mouth": "0.9 mm"}]}, 422, "value_wrong", "zones[0].mouth"),
            ({"hook": None}, 422, "value_wrong", "hook"),
            ({"size": "big"}, 422, "field_unknown", "size"),
        ],
    )
    def test_what_cannot_be(
        self, client: TestClient, shop: FakeShop, change: dict[str, Any], status: int, code: str, field: str
    ) -> None:
        answer = client.post("/api/moulds", json={**TEAL, **change})
        error = answer.json()["error"]
        assert (answer.status_code, error["code"], error["field"]) == (status, code, field)
        assert len(shop.all_moulds()) == 12


class TestChange:
    def test_keeps_the_recipe(self, client: TestClient, shop: FakeShop) -> None:
        heron = mould(shop, "Heron")
        body = {k: v for k, v in TEAL.items() if k != "recipe"} | {"name": "Grey heron", "hook": "9"}
        answer = client.put(f"/api/moulds/{heron.id}", json=body)
        assert answer.status_code == 200
        told = answer.json()
        assert (told["name"], told["hook"], told["recipe"], told["coats_given"]) == (
            "Grey heron",
            "9",
            "wader",
            4,
        )

    def test_holds_from_the_time_told(self, client: TestClient, shop: FakeShop) -> None:
        at = shop.clock.now() - timedelta(minutes=20)
        body = {k: v for k, v in TEAL.items() if k != "recipe"} | {"at": at.isoformat()}
        assert client.put(f"/api/moulds/{mould(shop, 'Heron').id}", json=body).status_code == 200
        assert shop.records.all_facts[-1].at == at

    def test_another_recipe_is_no_change_of_this_mould(self, client: TestClient, shop: FakeShop) -> None:
        error = client.put(f"/api/moulds/{mould(shop, 'Heron').id}", json=TEAL).json()["error"]
        assert (error["code"], error["field"]) == ("field_unknown", "recipe")

    def test_no_such_mould(self, client: TestClient) -> None:
        body = {k: v for k, v in TEAL.items() if k != "recipe"}
        assert client.put("/api/moulds/99", json=body).status_code == 404


def test_sentences_follow_the_shops_units() -> None:
    from dataclasses import replace

    from service.units import Units

    shop = FakeShop.saltmarsh(count=12)
    site = shop.site()
    assert site
    shop.save_site(replace(site, units=Units.US, time_zone="America/New_York"))
    told = client_of(shop).get(f"/api/moulds/{mould(shop, 'Lapwing').id}").json()
    assert "9:50 am" in told["says"]["headline"]
