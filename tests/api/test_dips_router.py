"""Several dips as JSON."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.fakes import FakeShop
from tests.api.scene import mould


def body(shop: FakeShop, **more: Any) -> dict[str, Any]:
    dips = [
        {"mould_id": mould(shop, name).id, "coat": 5 + (name == "Lapwing")} for name in ("Heron", "Lapwing")
    ]
    return {"tank": "grey", "hand": "bench 1", "dips": dips, **more}


def test_what_was_recorded_and_what_not(client: TestClient, shop: FakeShop) -> None:
    for _ in range(2):  # sent again, nothing is recorded a second time
        answer = client.post("/api/dips", json=body(shop), headers={"Idempotency-Key": "session-0001"})
        assert answer.status_code == 200
        told = answer.json()
        heron = mould(shop, "Heron")
        assert [(fact["mould_id"], fact["body"]["coat"]) for fact in told["recorded"]] == [(heron.id, 5)]
        assert told["recorded"][0]["key"] == f"session-0001-{heron.id}-5"
        (refused,) = told["refused"]
        assert refused["mould_id"] == mould(shop, "Lapwing").id
        assert refused["error"]["code"] == "dip_early"
        assert refused["error"]["field"] == "early_reason"
    assert mould(shop, "Heron").coats_given == 5


def test_blanks_are_no_reason(client: TestClient, shop: FakeShop) -> None:
    sent = body(shop)
    sent["dips"][1] |= {"early_reason": "   "}
    told = client.post("/api/dips", json=sent, headers={"Idempotency-Key": "session-0002"}).json()
    assert [one["error"]["code"] for one in told["refused"]] == ["dip_early"]


def test_each_may_have_a_key_a_time_and_a_reason_of_its_own(client: TestClient, shop: FakeShop) -> None:
    sent = body(shop, at="2025-12-11T14:10:00Z")
    sent["dips"][0] |= {"key": "heron-key-0001", "at": "2025-12-11T14:00:00Z"}
    sent["dips"][1] |= {"early_reason": "the pour is booked"}
    told = client.post("/api/dips", json=sent).json()
    assert [fact["at"] for fact in told["recorded"]] == ["2025-12-11T14:00:00Z", "2025-12-11T14:10:00Z"]
    assert told["recorded"][0]["key"] == "heron-key-0001"
    assert told["recorded"][1]["body"]["early_reason"] == "the pour is booked"


@pytest.mark.parametrize(
    "wrong", [{"dips": []}, {"dips": [{"mould_id": 1}]}, {"tank": ""}, {"dips": [{"coat": 1}]}, {"more": 1}]
)
def test_what_cannot_be_read_is_refused_as_a_whole(
    client: TestClient, shop: FakeShop, wrong: dict[str, Any]
) -> None:
    before = len(shop.records.all_facts)
    answer = client.post("/api/dips", json=body(shop, **wrong))
    assert answer.status_code == 422
    assert answer.json()["error"]["todo"]
    assert len(shop.records.all_facts) == before
