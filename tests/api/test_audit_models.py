"""The audit as JSON: everything the page tells."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from api.audit_models import AuditOut
from api.settings import ApiSettings
from tests.api.conftest import ADDRESS
from tests.service.room.small_shop import SmallShop
from tests.service.room.whole_shell import furnished, hang_whole


@pytest.fixture(scope="module")
def audit(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Any]]:
    folder: Path = tmp_path_factory.mktemp("json")
    with SmallShop(folder) as small:
        furnished(small)
        number = hang_whole(small)
        client = TestClient(create_app(small.shop, ApiSettings(broker_host="127.0.0.1")), base_url=ADDRESS)
        answer = client.get(f"/api/moulds/{number}/audit")
        assert answer.status_code == 200
        yield answer.json()


def test_a_coat_carries_all_of_it(audit: dict[str, Any]) -> None:
    coat = audit["coats"][3]
    low, high = coat["likely_saturation"]
    assert low < coat["saturation_at_next_dip"] < high
    assert (coat["too_wet"], coat["saturation_limit"], coat["thickness_m"]) == ("surely", 0.35, 0.0011)
    assert coat["tank_check"]["flow_s"] == 14.2
    assert coat["early_reason"] == "the pour is booked"
    assert coat["felt_damp_at"] == "2026-03-03T04:48:00Z"
    assert coat["wettest_place"] == "cup"
    assert 285 < coat["coldest_surface_k"] < 293
    assert audit["coats"][0]["swing_k"] > 1.5


def test_the_end_the_weights_and_the_result(audit: dict[str, Any]) -> None:
    final, weighed = audit["final"], audit["weighings"]
    assert final["likely_water"][0] < final["water_share"] < final["likely_water"][1]
    assert (final["waited_s"], final["dry_at"], final["still_hangs"]) == (30 * 3600, None, False)
    assert (weighed["fitted"], len(weighed["pairs"])) == (4, 6)
    assert audit["result"]["body"]["failings"][0] == {"fault": "shell opened", "zone": "body", "coat": 4}
    assert audit["result"]["says"].startswith("Came out failed")
    assert audit["from_notebook"] is False


def test_what_stands_out_is_ranked_and_said(audit: dict[str, Any]) -> None:
    found = audit["stands_out"]
    assert [item["distance"] for item in found] == sorted((i["distance"] for i in found), reverse=True)
    assert {item["known"] for item in found} == {"recorded", "measured", "worked out"}
    assert all(item["says"].endswith(".") for item in found)
    assert audit["sound_shells"] == 0


def test_the_example_of_the_docs_is_one() -> None:
    example = AuditOut.model_config["json_schema_extra"]["example"]  # type: ignore[index, call-overload]
    assert set(example) == set(AuditOut.model_fields)
    assert AuditOut.model_validate(example).sound_shells == 24
