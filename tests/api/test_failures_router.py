"""What failures share as JSON."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from api.fakes import FakeShop
from service.records.facts import FaultKind
from service.room.views import Factor
from tests.api.scene import plain
from tests.service.failures.making import shell
from tests.service.failures.making import shop as make

EARLY = "/failures/run-out/early-dips"


@pytest.fixture
def found(shop: FakeShop) -> FakeShop:
    shop.shells = make(150, 1, planted=True)
    return shop


class TestJson:
    def test_says_what_the_page_says(self, client: TestClient, found: FakeShop) -> None:
        told = client.get("/api/failures").json()
        assert (told["looked"], told["failed"] + told["sound"], told["without_result"]) == (
            "all together",
            150,
            0,
        )
        run_out = next(kind for kind in told["kinds"] if kind["kind"] == "run-out")
        early = next(c for c in run_out["comparisons"] if c["factor"] == "early dips")
        assert early["stands_out"]
        assert early["sentence"] in plain(client.get("/failures").text)
        assert early["shares"]["odds_low"] > 1
        assert len(early["failed_shells"]) == run_out["failed"]
        assert early["page"] == EARLY
        assert told["comparisons"] == sum(len(kind["comparisons"]) for kind in told["kinds"])

    def test_odds_without_bound_are_null_and_told(self, client: TestClient, shop: FakeShop) -> None:
        late = {Factor.LATE_DIPS: 1.0}
        shop.shells = [shell(i, factors={Factor.LATE_DIPS: 0.0}) for i in range(1, 31)]
        shop.shells += [shell(50 + i, "failed", [FaultKind.FIN], factors=late) for i in range(6)]
        (kind,) = client.get("/api/failures").json()["kinds"]
        shares = kind["comparisons"][0]["shares"]
        assert (shares["odds_ratio"], shares["odds_high"]) == (None, None)
        assert "without bound (no sound shell had it)" in shares["words"]

    def test_within_recipes(self, client: TestClient, found: FakeShop) -> None:
        told = client.get("/api/failures?within=recipe").json()
        assert told["looked"] == "within recipes"

    def test_of_nothing(self, client: TestClient) -> None:
        assert client.get("/api/failures").json() == {
            "looked": "all together",
            "sound": 0,
            "failed": 0,
            "without_result": 0,
            "comparisons": 0,
            "kinds": [],
            "to_come": 0,
        }
