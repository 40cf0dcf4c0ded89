"""Every route says what it does, with an example that really holds."""

from __future__ import annotations

import inspect
from typing import Any

import pytest
from fastapi.testclient import TestClient
from pydantic import BaseModel

from api import (
    air_models,
    audit_models,
    fact_models,
    failure_models,
    learned_models,
    message_models,
    models,
    mould_models,
    notebook_models,
    push_models,
    recipe_models,
    result_models,
    site_models,
    tank_models,
    what_if_models,
)
from api.docs_router import endpoints
from api.models import In, Out
from tests.api.scene import plain

MODULES = (
    air_models,
    audit_models,
    fact_models,
    failure_models,
    learned_models,
    message_models,
    models,
    mould_models,
    notebook_models,
    push_models,
    recipe_models,
    result_models,
    site_models,
    tank_models,
    what_if_models,
)


def all_models() -> list[type[BaseModel]]:
    found = [c for module in MODULES for _, c in inspect.getmembers(module, inspect.isclass)]
    return sorted(
        {c for c in found if issubclass(c, In | Out) and c.model_config.get("json_schema_extra")}, key=str
    )


@pytest.fixture
def openapi(client: TestClient) -> dict[str, Any]:
    described: dict[str, Any] = client.get("/api/openapi.json").json()
    return described


ROUTES = [
    "GET /api/board",
    "GET /api/learned",
    "POST /api/learned/anew",
    "GET /api/learned/rooms",
    "POST /api/what-if",
    "GET /api/moulds/{mould_id}/heard",
    "POST /api/moulds/{mould_id}/faces",
    "GET /api/moulds/{mould_id}/sensors",
    "POST /api/moulds/{mould_id}/sensors",
    "GET /api/moulds",
    "GET /api/moulds/{mould_id}",
    "POST /api/moulds",
    "PUT /api/moulds/{mould_id}",
    "GET /api/moulds/{mould_id}/facts",
    "GET /api/moulds/{mould_id}/audit",
    "POST /api/moulds/{mould_id}/dips",
    "POST /api/dips",
    "POST /api/moulds/{mould_id}/wires",
    "POST /api/moulds/{mould_id}/checks",
    "POST /api/moulds/{mould_id}/notes",
    "POST /api/moulds/{mould_id}/weights",
    "POST /api/moulds/{mould_id}/end",
    "POST /api/moulds/{mould_id}/result",
    "POST /api/moulds/{mould_id}/photos",
    "GET /api/moulds/{mould_id}/photos",
    "POST /api/tanks/checks",
    "POST /api/facts/{number}/withdraw",
    "POST /api/facts/{number}/correct",
    "GET /api/push",
    "POST /api/push",
    "DELETE /api/push/{device_id}",
    "POST /api/push/{device_id}/test",
    "GET /api/failures",
    "GET /api/site",
    "PUT /api/site",
    "GET /api/rooms",
    "POST /api/rooms",
    "PUT /api/rooms/{room_id}",
    "GET /api/sensors",
    "PUT /api/sensors/{name}",
    "GET /api/recipients",
    "GET /api/rejects",
    "GET /api/past-moulds",
    "GET /api/recipes",
    "GET /api/recipes/{name}",
    "POST /api/recipes",
    "GET /api/storage",
    "GET /api/tanks",
    "GET /api/alerts",
    "POST /api/alerts/{alert_id}/reply",
    "POST /api/test-message",
    "GET /api/health",
    "GET /api/calendar",
    "POST /api/calendar",
    "GET /api/signals/schema",
    "GET /api/export",
    "GET /api/export/schema",
    "GET /api/moulds/{mould_id}/export",
    "POST /api/import",
    "POST /api/clock-is-right",
]
RECORDS_NOTHING = ("/api/what-if",)
BARE = (
    "/api/test-message",
    "/api/clock-is-right",
    "/api/calendar",
    "/api/push/{device_id}",
    "/api/push/{device_id}/test",
)


class TestRoutes:
    def test_are_all_listed(self, openapi: dict[str, Any]) -> None:
        assert sorted(f"{e.verb} {e.path}" for e in endpoints(openapi)) == sorted(ROUTES)

    def test_every_one_has_a_summary_and_an_example(self, openapi: dict[str, Any]) -> None:
        for endpoint in endpoints(openapi):
            assert len(endpoint.summary) > 5, endpoint
            assert endpoint.answered not in ("", "null"), endpoint
            has_body = endpoint.verb != "GET" and endpoint.path not in BARE
            assert (endpoint.sent not in ("", "null")) is has_body, endpoint

    def test_every_one_shows_the_error_shape(self, openapi: dict[str, Any]) -> None:
        for path, verbs in openapi["paths"].items():
            for verb, route in verbs.items():
                wrong = {status: answer for status, answer in route["responses"].items() if status >= "400"}
                assert {"401", "503"} <= set(wrong), (verb, path)
                for answer in wrong.values():
                    assert answer["content"]["application/json"]["schema"]["$ref"].endswith("/ProblemOut")

    def test_every_write_takes_an_idempotency_key(self, openapi: dict[str, Any]) -> None:
        for path, verbs in openapi["paths"].items():
            for verb, route in verbs.items():
                names = [p["name"].lower() for p in route.get("parameters", [])]
                writes = verb != "get" and path not in RECORDS_NOTHING
                assert ("idempotency-key" in names) is writes, (verb, path)

    def test_quantities_are_described_as_text_with_a_unit(self, openapi: dict[str, Any]) -> None:
        mass = openapi["components"]["schemas"]["WeightIn"]["properties"]["mass"]
        text = mass["anyOf"][0]
        assert text["type"] == "string"
        assert "4.2 kg" in text["examples"]


class TestExamples:
    def test_there_are_many(self) -> None:
        assert len(all_models()) >= 30

    @pytest.mark.parametrize("model", all_models(), ids=lambda m: m.__name__)
    def test_each_is_what_its_model_takes(self, model: type[BaseModel]) -> None:
        extra = model.model_config["json_schema_extra"]
        assert isinstance(extra, dict)
        example = extra["example"]
        assert isinstance(example, dict)
        made = model.model_validate(example)
        assert set(example) <= set(model.model_fields)
        if issubclass(model, Out):
            assert set(example) == set(model.model_fields), "an answer's example shows every field"
        assert made is not None


class TestPage:
    def test_lists_everything(self, client: TestClient) -> None:
        text = plain(client.get("/api/docs").text)
        assert all(route in text for route in ROUTES)
        assert "Idempotency-Key" in text

    def test_api_leads_there(self, client: TestClient) -> None:
        assert client.get("/api").headers["location"] == "/api/docs"

    def test_needs_nothing_from_elsewhere(self, client: TestClient) -> None:
        assert "//" not in client.get("/api/docs").text.replace("http://127.0.0.1:8321", "").replace(
            "://", ""
        )
