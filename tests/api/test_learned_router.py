"""What was learned and heard, and what is told of faces and sensors, as JSON."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.fakes import FakeShop
from tests.api.scene import mould


@pytest.fixture
def heron(shop: FakeShop) -> int:
    shop.show_weight("hoist", 14.2)
    shop.show_surface("probe 2", 290.0)
    return mould(shop, "Heron").id


def post(client: TestClient, path: str, body: dict[str, Any], key: str = "program-key-1") -> Any:
    return client.post(path, json=body, headers={"Idempotency-Key": key})


class TestLearned:
    def test_each_thing_with_its_words(self, client: TestClient) -> None:
        told = client.get("/api/learned").json()
        hook = told[1]
        assert (hook["kind"], hook["of"], hook["likely"]) == ("draught", "1/3", 1.6)
        assert hook["pieces"] == {"weight": 12, "felt": 5}
        assert (hook["moulds"], hook["mould_ids"]) == (4, [3, 7, 11, 12])
        assert hook["says"].startswith("Hook 3 in Shell room: water leaves 1.6 times as fast")
        assert hook["newest_at"] == "2025-12-10T14:20:00Z"
        assert told[-1]["pieces"] == {}
        assert told[-1]["newest_at"] is None

    def test_learned_anew(self, client: TestClient, shop: FakeShop) -> None:
        said = {"effect": "draught", "of": "1/3", "text": "new fan", "hand": "bench 1"}
        answers = [post(client, "/api/learned/anew", said) for _ in range(2)]
        assert [answer.status_code for answer in answers] == [201, 201]
        fact = answers[0].json()
        assert fact["body"] == {"kind": "learn anew", "effect": "draught", "of": "1/3", "text": "new fan"}
        assert (fact["mould_id"], len(shop.learned_anew())) == (None, 1)
        assert fact["says"] == "To be learned anew: how fast water leaves (Hook 3 in Shell room): new fan"
        back = post(client, f"/api/facts/{fact['number']}/withdraw", {}, "program-key-2")
        assert back.status_code == 201
        assert shop.learned_anew() == []

    def test_all_of_it(self, client: TestClient, shop: FakeShop) -> None:
        assert post(client, "/api/learned/anew", {}).json()["body"]["effect"] == ""

    @pytest.mark.parametrize(
        ("said", "status"), [({"effect": "draught", "of": "9/9"}, 404), ({"effect": "shine"}, 422)]
    )
    def test_what_was_never_learned(self, client: TestClient, said: dict[str, str], status: int) -> None:
        answer = post(client, "/api/learned/anew", said)
        assert answer.status_code == status
        assert answer.json()["error"]["field"] == "effect"


class TestHeard:
    def test_with_what_was_expected(self, client: TestClient) -> None:
        told = client.get("/api/moulds/1/heard").json()
        weight = told[1]
        assert (weight["kind"], weight["unit"], weight["said"]) == ("weight", "kg", -0.038)
        assert weight["against_at"] == "2025-12-11T11:10:00Z"
        assert (
            weight["says"]
            == "Weighed 12:50: lost 38 g since 11:10. Expected: lost 31 g to 45 g. As expected."
        )
        assert [each["left_out"] for each in told].count(True) == 2
        assert {each["unit"] for each in told} == {"kg", "K", ""}

    def test_of_a_mould_of_which_nothing_was_heard(self, client: TestClient) -> None:
        assert client.get("/api/moulds/2/heard").json() == []
        assert client.get("/api/moulds/99/heard").status_code == 404


class TestFace:
    def test_is_recorded(self, client: TestClient, heron: int) -> None:
        said = {"temperature": "65 degF", "zone": "outside", "hand": "bench 1"}
        answer = post(client, f"/api/moulds/{heron}/faces", said)
        assert answer.status_code == 201
        assert answer.json()["body"]["temperature_k"] == pytest.approx(291.483, abs=0.001)
        assert answer.json()["says"] == "Face read at outside: 18.3 °C"

    @pytest.mark.parametrize(
        ("said", "code", "field"),
        [
            ({"temperature": "80 degC", "zone": "outside"}, "face_far_off", "temperature"),
            ({"temperature": "900 degC", "zone": "outside"}, "face_far_off", "temperature"),
            ({"temperature": "18 degC", "zone": "beak"}, "zone_unknown", "zone"),
            ({"temperature": "18 degC"}, "zone_missing", "zone"),
            ({"temperature": "18"}, "unit_missing", "temperature"),
            (
                {"temperature": "18 degC", "zone": "outside", "at": "2025-12-11T20:00:00Z"},
                "dip_in_future",
                "at",
            ),
        ],
    )
    def test_what_cannot_be(
        self, client: TestClient, heron: int, said: dict[str, str], code: str, field: str
    ) -> None:
        error = post(client, f"/api/moulds/{heron}/faces", said).json()["error"]
        assert (error["code"], error["field"]) == (code, field)

    def test_is_corrected(self, client: TestClient, heron: int) -> None:
        said = {"temperature": "18 degC", "zone": "outside"}
        number = post(client, f"/api/moulds/{heron}/faces", said).json()["number"]
        better = post(client, f"/api/facts/{number}/correct", {"temperature": "19 degC"}, "program-key-2")
        assert better.json()["says"] == "Face read at outside: 19.0 °C"


class TestSensors:
    def test_put_on_seen_and_taken_off(self, client: TestClient, heron: int) -> None:
        path = f"/api/moulds/{heron}/sensors"
        assert client.get(path).json() == []
        said = {"sensor": "probe 2", "zone": "hollow base", "hand": "bench 1"}
        assert post(client, path, said).json()["says"] == "“probe 2” put on at hollow base"
        assert client.get(path).json() == [
            {
                "sensor": "probe 2",
                "mould_id": heron,
                "mould": "Heron",
                "zone": "hollow base",
                "since": "2025-12-11T14:20:00Z",
            }
        ]
        post(client, path, {**said, "off": True}, "program-key-2")
        assert client.get(path).json() == []
        assert client.get("/api/moulds/99/sensors").status_code == 404

    @pytest.mark.parametrize(
        ("said", "code"),
        [
            ({"sensor": "hoist", "zone": "outside"}, "scale_has_no_place"),
            ({"sensor": "bench"}, "sensor_not_of_a_mould"),
            ({"sensor": "nobody"}, "sensor_unknown"),
            ({"sensor": "hoist", "off": True}, "sensor_not_on"),
        ],
    )
    def test_what_cannot_be(self, client: TestClient, heron: int, said: dict[str, Any], code: str) -> None:
        assert post(client, f"/api/moulds/{heron}/sensors", said).json()["error"]["code"] == code
