"""What happened to a mould, told over JSON."""

from __future__ import annotations

import io
from datetime import timedelta
from typing import Any, ClassVar

import pytest
from fastapi.testclient import TestClient

from api.fakes import START, FakeShop
from service.records.facts import DipBody, ResultBody
from tests.api.scene import mould
from tests.service.records.pictures import jpeg


@pytest.fixture
def heron(shop: FakeShop) -> int:
    return mould(shop, "Heron").id


def post(client: TestClient, path: str, body: dict[str, Any], key: str = "program-key-1") -> Any:
    return client.post(path, json=body, headers={"Idempotency-Key": key})


class TestDip:
    def test_is_recorded(self, client: TestClient, shop: FakeShop, heron: int) -> None:
        answer = post(client, f"/api/moulds/{heron}/dips", {"tank": "grey", "coat": 5, "hand": "bench 1"})
        assert answer.status_code == 201
        fact = answer.json()
        assert fact["body"] == {
            "kind": "dip",
            "coat": 5,
            "coat_kind": "backup",
            "tank": "grey",
            "early_reason": None,
        }
        assert (fact["mould_id"], fact["hand"], fact["key"]) == (heron, "bench 1", "program-key-1")
        assert fact["at"] == "2025-12-11T14:20:00Z"
        assert fact["says"] == "Coat 5, backup, dipped from the grey tank"
        assert shop.mould(heron).coats_given == 5

    def test_the_same_key_again_records_nothing(self, client: TestClient, shop: FakeShop, heron: int) -> None:
        answers = [post(client, f"/api/moulds/{heron}/dips", {"tank": "grey"}) for _ in range(3)]
        assert len({a.json()["number"] for a in answers}) == 1
        assert shop.mould(heron).coats_given == 5

    def test_without_a_key_the_coat_is_asked_for(
        self, client: TestClient, shop: FakeShop, heron: int
    ) -> None:
        answer = client.post(f"/api/moulds/{heron}/dips", json={"tank": "grey"})
        error = answer.json()["error"]
        assert (answer.status_code, error["code"], error["field"]) == (422, "coat_or_key_missing", "coat")
        assert shop.mould(heron).coats_given == 4

    def test_with_the_coat_no_key_is_asked_for(self, client: TestClient, shop: FakeShop, heron: int) -> None:
        answers = [
            client.post(f"/api/moulds/{heron}/dips", json={"tank": "grey", "coat": 5}) for _ in range(3)
        ]
        assert [answer.status_code for answer in answers] == [201, 409, 409]
        assert shop.mould(heron).coats_given == 5

    def test_without_a_key_each_is_its_own(self, client: TestClient, shop: FakeShop, heron: int) -> None:
        for text in ("one", "two"):
            assert client.post(f"/api/moulds/{heron}/notes", json={"text": text}).status_code == 201
        keys = [f.key for f in shop.records.facts(heron)[-2:]]
        assert len(set(keys)) == 2
        assert all(keys)

    @pytest.mark.parametrize("key", ["short", "x" * 101])
    def test_a_key_has_eight_to_a_hundred_letters(self, client: TestClient, heron: int, key: str) -> None:
        answer = post(client, f"/api/moulds/{heron}/notes", {"text": "crack"}, key)
        assert answer.status_code == 422
        assert answer.json()["error"]["field"] == "idempotency-key"

    def test_a_time_with_its_zone(self, client: TestClient, shop: FakeShop, heron: int) -> None:
        post(client, f"/api/moulds/{heron}/dips", {"tank": "grey", "at": "2025-12-11T16:00:00+02:00"})
        assert shop.mould(heron).last_dip_at == START - timedelta(minutes=20)

    def test_a_time_without_one_is_refused(self, client: TestClient, heron: int) -> None:
        answer = post(client, f"/api/moulds/{heron}/dips", {"tank": "grey", "at": "2025-12-11T14:00:00"})
        assert answer.status_code == 422
        assert "has no time zone" in answer.json()["error"]["message"]

    @pytest.mark.parametrize(
        ("body", "status", "code"),
        [
            ({"tank": "grey", "coat": 6}, 409, "coat_out_of_order"),
            ({"tank": "grey", "at": "2025-12-11T15:00:00Z"}, 422, "dip_in_future"),
            ({"tank": "grey", "at": "2025-12-11T09:00:00Z"}, 409, "dip_before_previous"),
            ({"tank": ""}, 422, "value_wrong"),
            ({"tank": "x" * 61}, 422, "value_wrong"),
            ({"tank": "grey", "coat": 0}, 422, "value_wrong"),
        ],
    )
    def test_what_does_not_fit(
        self, client: TestClient, shop: FakeShop, heron: int, body: dict[str, Any], status: int, code: str
    ) -> None:
        answer = post(client, f"/api/moulds/{heron}/dips", body)
        assert (answer.status_code, answer.json()["error"]["code"]) == (status, code)
        assert shop.mould(heron).coats_given == 4

    def test_early_ones_want_a_reason(self, client: TestClient, shop: FakeShop) -> None:
        lapwing = mould(shop, "Lapwing").id
        for blank in ({}, {"early_reason": ""}, {"early_reason": "  \t "}):
            refused = post(client, f"/api/moulds/{lapwing}/dips", {"tank": "grey", **blank})
            assert (refused.status_code, refused.json()["error"]["code"]) == (409, "dip_early")
        body = {"tank": "grey", "early_reason": "the pour is booked"}
        assert post(client, f"/api/moulds/{lapwing}/dips", body).status_code == 201


class TestOthers:
    @pytest.mark.parametrize(
        ("path", "body", "stored"),
        [
            ("wires", {"text": "edges"}, {"kind": "wires", "after_coat": 4, "text": "edges"}),
            ("checks", {"verdict": "dry"}, {"kind": "check", "verdict": "dry", "zone": None}),
            ("notes", {"text": "crack"}, {"kind": "note", "text": "crack"}),
            ("weights", {"mass": "14.2 kg"}, {"kind": "weight", "mass_kg": 14.2}),
            ("end", {"outcome": "scrapped"}, {"kind": "ended", "outcome": "scrapped", "text": ""}),
        ],
    )
    def test_are_recorded(
        self, client: TestClient, heron: int, path: str, body: dict[str, Any], stored: dict[str, Any]
    ) -> None:
        answer = post(client, f"/api/moulds/{heron}/{path}", body)
        assert answer.status_code == 201
        assert answer.json()["body"] == stored
        again = post(client, f"/api/moulds/{heron}/{path}", body)
        assert again.json()["number"] == answer.json()["number"]

    def test_pounds_are_taken(self, client: TestClient, heron: int) -> None:
        answer = post(client, f"/api/moulds/{heron}/weights", {"mass": "30 lb"})
        assert answer.json()["body"]["mass_kg"] == pytest.approx(13.6078, abs=1e-4)

    @pytest.mark.parametrize("mass", ["0 kg", "-1 kg", "1001 kg"])
    def test_no_mould_weighs_that(self, client: TestClient, heron: int, mass: str) -> None:
        assert post(client, f"/api/moulds/{heron}/weights", {"mass": mass}).status_code == 422


class TestProblem:
    def test_a_note_may_say_what_is_wrong(self, client: TestClient, shop: FakeShop, heron: int) -> None:
        answer = post(client, f"/api/moulds/{heron}/notes", {"problem": "crack", "text": "at the cup"})
        assert answer.status_code == 201
        assert answer.json()["says"] == "Something is wrong: Crack: at the cup"
        assert answer.json()["body"] == {"kind": "note", "text": "at the cup", "problem": "crack"}
        assert [wrong.problem for wrong in shop.mould(heron).wrong] == ["crack"]
        post(client, f"/api/moulds/{heron}/notes", {"problem": "crack", "over": True}, "program-key-2")
        assert shop.mould(heron).wrong == ()

    @pytest.mark.parametrize(
        ("body", "code"),
        [({}, "note_empty"), ({"over": True}, "note_empty"), ({"problem": "x"}, "value_wrong")],
    )
    def test_what_says_nothing(self, client: TestClient, heron: int, body: dict[str, Any], code: str) -> None:
        answer = post(client, f"/api/moulds/{heron}/notes", body)
        assert (answer.status_code, answer.json()["error"]["code"]) == (422, code)


class TestScale:
    def test_its_newest_reading_is_kept(self, client: TestClient, shop: FakeShop, heron: int) -> None:
        path = f"/api/moulds/{heron}/weights"
        assert post(client, path, {"scale": "hoist"}).json()["error"]["code"] == "scale_silent"
        shop.show_weight("hoist", 14.2)
        assert (
            post(client, path, {"scale": "hoist"}).json()["says"] == "Weighed 14.20 kg by the scale “hoist”"
        )

    @pytest.mark.parametrize("body", [{}, {"scale": "hoist", "mass": "4 kg"}])
    def test_one_of_both_is_wanted(self, client: TestClient, heron: int, body: dict[str, str]) -> None:
        answer = post(client, f"/api/moulds/{heron}/weights", body)
        assert (answer.status_code, answer.json()["error"]["code"]) == (422, "weight_or_scale")


class TestWithdraw:
    def test_takes_it_back(self, client: TestClient, shop: FakeShop, heron: int) -> None:
        number = shop.mould(heron).last_dip_number
        answer = post(client, f"/api/facts/{number}/withdraw", {"text": "wrong mould"})
        assert answer.json()["replaces"] == number
        assert shop.mould(heron).coats_given == 3

    def test_only_once(self, client: TestClient, shop: FakeShop, heron: int) -> None:
        number = shop.mould(heron).last_dip_number
        post(client, f"/api/facts/{number}/withdraw", {})
        again = post(client, f"/api/facts/{number}/withdraw", {}, "another-key-2")
        assert (again.status_code, again.json()["error"]["code"]) == (409, "fact_gone")


class TestCorrect:
    def test_only_what_is_given_changes(self, client: TestClient, shop: FakeShop, heron: int) -> None:
        number = shop.mould(heron).last_dip_number
        assert number
        old = shop.records.fact(number)
        answer = post(client, f"/api/facts/{number}/correct", {"tank": "white"})
        assert answer.status_code == 201
        new = shop.records.all_facts[-1]
        assert new.body == DipBody(coat=4, coat_kind="backup", tank="white")
        assert (new.at, new.replaces) == (old.at, number)

    def test_the_time_alone(self, client: TestClient, shop: FakeShop, heron: int) -> None:
        number = shop.mould(heron).last_dip_number
        post(client, f"/api/facts/{number}/correct", {"at": "2025-12-11T11:30:00Z"})
        assert shop.mould(heron).last_dip_at == START - timedelta(hours=2, minutes=50)

    def test_a_field_of_another_kind_is_refused(self, client: TestClient, shop: FakeShop, heron: int) -> None:
        number = shop.mould(heron).last_dip_number
        error = post(client, f"/api/facts/{number}/correct", {"mass": "4 kg"}).json()["error"]
        assert error["code"] == "field_unknown"
        assert "(dip) has no “mass_kg”" in error["message"]
        assert "early_reason, tank" in error["todo"]

    def test_a_value_that_cannot_be(self, client: TestClient, shop: FakeShop, heron: int) -> None:
        fact = shop.wires(heron, "edges", "", "wires-key-1")
        error = post(client, f"/api/facts/{fact.number}/correct", {"text": "x" * 501}).json()["error"]
        assert (error["code"], error["field"]) == ("value_wrong", "text")

    def test_a_weight_in_other_units(self, client: TestClient, shop: FakeShop, heron: int) -> None:
        fact = shop.weigh(heron, 14.0, "", "weight-key-1")
        answer = post(client, f"/api/facts/{fact.number}/correct", {"mass": "31 lb"})
        assert answer.json()["body"]["mass_kg"] == pytest.approx(14.0614, abs=1e-4)

    def test_a_result_with_all_its_failings(self, client: TestClient, shop: FakeShop, heron: int) -> None:
        shop.end(heron, "dewaxed", "", "", "end-key-0001")
        fact = shop.result(heron, ResultBody(verdict="sound"), "", "result-key-1")
        path = f"/api/facts/{fact.number}/correct"
        error = post(client, path, {"verdict": "failed"}).json()["error"]
        assert error["code"] == "result_unclear"
        failings = [{"fault": "fin", "zone": "outside"}, {"fault": "run-out", "coat": 3}]
        answer = post(client, path, {"verdict": "failed", "failings": failings})
        assert answer.status_code == 201
        assert [(f.fault, f.zone, f.coat) for f in shop.mould(heron).failings] == [
            ("fin", "outside", None),
            ("run-out", None, 3),
        ]

    @pytest.mark.parametrize("field", ["sha256", "width_px", "size_bytes"])
    def test_of_a_photo_only_what_is_said_of_it(
        self, client: TestClient, shop: FakeShop, heron: int, field: str
    ) -> None:
        fact = shop.photo(heron, io.BytesIO(jpeg()), "", "photo-key-01")
        path = f"/api/facts/{fact.number}/correct"
        assert post(client, path, {field: 1}).status_code == 422
        answer = post(client, path, {"text": "the foot", "zone": "outside", "coat": 2})
        assert answer.json()["says"] == "Photo at outside, coat 2: the foot"


class TestResult:
    BODY: ClassVar = {"verdict": "failed", "failings": [{"fault": "fin", "zone": "outside", "coat": 2}]}

    @pytest.fixture
    def path(self, shop: FakeShop, heron: int) -> str:
        shop.end(heron, "dewaxed", "", "", "end-key-0001")
        return f"/api/moulds/{heron}/result"

    def test_is_recorded_and_stands_on_the_mould(self, client: TestClient, heron: int, path: str) -> None:
        first, again = (post(client, path, {**self.BODY, "text": "a hairline"}) for _ in range(2))
        assert first.status_code == 201
        assert first.json() == again.json()
        assert first.json()["says"] == "Came out failed: fin at outside, coat 2: a hairline"
        seen = client.get(f"/api/moulds/{heron}").json()
        assert (seen["verdict"], seen["failings"]) == ("failed", self.BODY["failings"])
        assert seen["result_number"] == first.json()["number"]
        assert seen["says"]["what_now"] == "Failed: fin at outside, coat 2"

    def test_one_not_told_yet_says_what_is_wanted(self, client: TestClient, heron: int, path: str) -> None:
        seen = client.get(f"/api/moulds/{heron}").json()
        assert (seen["verdict"], seen["failings"], seen["result_number"]) == (None, [], None)
        assert seen["says"]["what_now"] == "How did it come out?"

    @pytest.mark.parametrize(
        ("body", "code", "field"),
        [
            ({"verdict": "failed"}, "result_unclear", "failings"),
            ({"verdict": "sound", "failings": [{"fault": "fin"}]}, "result_unclear", "failings"),
            ({"verdict": "good"}, "value_wrong", "verdict"),
            ({"verdict": "failed", "failings": [{"fault": "sabotage"}]}, "value_wrong", "failings[0].fault"),
            (
                {"verdict": "failed", "failings": [{"fault": "fin", "coat": 0}]},
                "value_wrong",
                "failings[0].coat",
            ),
            ({"failings": []}, "field_missing", "verdict"),
        ],
    )
    def test_what_cannot_be(
        self, client: TestClient, path: str, body: dict[str, Any], code: str, field: str
    ) -> None:
        answer = post(client, path, body)
        assert answer.status_code == 422
        error = answer.json()["error"]
        assert (error["code"], error["field"]) == (code, field)

    def test_a_second_one_is_refused(self, client: TestClient, path: str) -> None:
        post(client, path, {"verdict": "sound"})
        again = post(client, path, self.BODY, "another-key-2")
        assert (again.status_code, again.json()["error"]["code"]) == (409, "result_known")
