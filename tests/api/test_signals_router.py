"""What the MQTT topics hold, described for programs."""

from __future__ import annotations

from fastapi.testclient import TestClient
from jsonschema import Draft202012Validator

from service.signals.payloads import schemas


def test_the_schemas_are_told(client: TestClient) -> None:
    told = client.get("/api/signals/schema").json()
    assert told == schemas()
    for schema in told.values():
        Draft202012Validator.check_schema(schema)
