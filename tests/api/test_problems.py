"""One error shape for programs, a page in words for people, and never a stack."""

from __future__ import annotations

import logging

import pytest
from fastapi.testclient import TestClient

from api.fakes import FakeShop
from service.errors import Unavailable
from service.room.views import Board
from tests.api.conftest import client_of
from tests.api.scene import plain

SHAPE = {"code", "message", "todo", "field"}


class TestShape:
    @pytest.mark.parametrize(
        ("verb", "path", "body", "status", "code"),
        [
            ("GET", "/api/nothing", None, 404, "no_such_page"),
            ("GET", "/api/moulds/99", None, 404, "mould_unknown"),
            ("GET", "/api/moulds/heron", None, 422, "value_wrong"),
            ("GET", "/api/recipes/herring", None, 404, "recipe_unknown"),
            ("DELETE", "/api/moulds/1", None, 405, "wrong_verb"),
            ("POST", "/api/moulds/1/dips", {}, 422, "field_missing"),
            ("POST", "/api/moulds/1/dips", {"tank": "grey", "cote": 5}, 422, "field_unknown"),
            ("POST", "/api/moulds/1/dips", {"tank": "grey", "coat": 9}, 409, "coat_out_of_order"),
            ("POST", "/api/moulds/1/weights", {"mass": "4 m"}, 422, "unit_wrong"),
            ("POST", "/api/moulds/1/weights", {"mass": 4}, 422, "unit_missing"),
            ("POST", "/api/moulds/1/checks", {"verdict": "moist"}, 422, "value_wrong"),
            ("PUT", "/api/rooms/9", {"name": "Attic"}, 404, "room_unknown"),
            ("POST", "/api/facts/9999/withdraw", {}, 404, "fact_unknown"),
            ("GET", "/api/rejects?limit=0", None, 422, "value_wrong"),
        ],
    )
    def test_every_problem_has_it(
        self, client: TestClient, verb: str, path: str, body: object, status: int, code: str
    ) -> None:
        answer = client.request(verb, path, json=body)
        assert answer.status_code == status
        assert set(answer.json()) == {"error"}
        error = answer.json()["error"]
        assert set(error) == SHAPE
        assert error["code"] == code
        assert error["message"].endswith(".")
        assert len(error["todo"]) > 5

    def test_unreadable_json(self, client: TestClient) -> None:
        headers = {"content-type": "application/json"}
        answer = client.post("/api/moulds/1/dips", content='{"tank": ', headers=headers)
        assert answer.json()["error"]["code"] == "json_unreadable"

    def test_no_body_at_all(self, client: TestClient) -> None:
        assert client.post("/api/moulds/1/dips").json()["error"]["code"] == "body_missing"

    def test_a_list_where_an_object_is_wanted(self, client: TestClient) -> None:
        assert client.post("/api/moulds/1/dips", json=[1]).json()["error"]["code"] == "not_an_object"

    @pytest.mark.parametrize(
        ("act", "body"),
        [
            ("notes", '{"text": "\\ud800"}'),
            ("notes", '{"hand": "\\ud800", "text": "dry"}'),
            ("notes", '{"\\ud800": 1}'),
            ("weights", '{"mass": "\\ud800"}'),
            ("weights", '{"mass": "4 \\ud800"}'),
        ],
    )
    def test_half_a_character_is_told_too(self, client: TestClient, act: str, body: str) -> None:
        headers = {"content-type": "application/json"}
        answer = client.post(f"/api/moulds/1/{act}", content=body, headers=headers)
        assert answer.status_code == 422
        assert set(answer.json()["error"]) == SHAPE

    def test_the_field_is_named_with_its_place(self, client: TestClient) -> None:
        zones = [{"name": "outside", "kind": "open face", "height": "38 cm", "width": "20 kg"}]
        body = {"name": "Teal", "room_id": 1, "recipe": "wader", "zones": zones}
        error = client.post("/api/moulds", json=body).json()["error"]
        assert error["field"] == "zones[0].width"
        assert "20 kg" in error["message"]
        assert "40 mm or 1.5 in" in error["todo"]

    def test_a_mistyped_field_explains_the_missing_one(self, client: TestClient) -> None:
        error = client.post("/api/moulds/1/dips", json={"tnak": "grey"}).json()["error"]
        assert (error["code"], error["field"]) == ("field_unknown", "tnak")
        assert "1 more to put right" in error["todo"]

    def test_405_says_what_may_be_asked(self, client: TestClient) -> None:
        assert client.delete("/api/moulds/1").headers["allow"]


class TestPages:
    def test_people_get_a_page(self, client: TestClient) -> None:
        answer = client.get("/mould/99")
        assert answer.status_code == 404
        assert answer.headers["content-type"].startswith("text/html")
        assert "There is no mould 99." in plain(answer.text)

    @pytest.mark.parametrize(
        ("sent_to", "page"),
        [
            ("/mould/1/dip", "/mould/1"),
            ("/mould/1/fact/2/withdraw", "/mould/1/fact/2"),
            ("/messages/test", "/messages"),
        ],
    )
    def test_a_refused_form_loaded_anew_leads_to_its_page(
        self, client: TestClient, sent_to: str, page: str
    ) -> None:
        answer = client.get(sent_to, follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, page)

    def test_a_room_changed_and_loaded_anew_is_found_two_levels_up(self, client: TestClient) -> None:
        assert client.get("/air/room/1", follow_redirects=True).url.path == "/air"

    def test_an_address_that_is_none(self, client: TestClient) -> None:
        answer = client.get("/slurry")
        assert answer.status_code == 404
        assert "There is nothing at /slurry." in plain(answer.text)

    def test_what_was_asked_is_not_run_as_html(self, client: TestClient) -> None:
        answer = client.get("/<script>alert(1)</script>")
        assert "<script>alert" not in answer.text


class _Stumbling(FakeShop):
    """Its board cannot be read."""

    failure: Exception = RuntimeError("a secret path /x/y")

    def board(self) -> Board:
        raise self.failure


class TestOwnFault:
    @pytest.mark.parametrize("path", ["/", "/api/board"])
    def test_no_stack_is_shown_but_it_is_logged(self, path: str, caplog: pytest.LogCaptureFixture) -> None:
        with caplog.at_level(logging.ERROR):
            answer = client_of(_Stumbling()).get(path)
        assert answer.status_code == 500
        assert "secret" not in answer.text
        assert "Nothing already recorded is lost" in answer.text
        assert "a secret path" in caplog.text

    def test_what_cannot_be_done_now_is_503(self, caplog: pytest.LogCaptureFixture) -> None:
        shop = _Stumbling()
        shop.failure = Unavailable("disk_full", "The disk is full.", "Make room, then try again.")
        with caplog.at_level(logging.ERROR):
            answer = client_of(shop).get("/api/board")
        assert answer.status_code == 503
        assert answer.json()["error"]["code"] == "disk_full"
        assert "disk_full" in caplog.text

    def test_the_page_says_it_too(self, caplog: pytest.LogCaptureFixture) -> None:
        shop = _Stumbling()
        shop.failure = Unavailable("disk_full", "The disk is full.", "Make room, then try again.")
        answer = client_of(shop).get("/")
        assert answer.status_code == 503
        assert "The disk is full. Make room, then try again." in plain(answer.text)
