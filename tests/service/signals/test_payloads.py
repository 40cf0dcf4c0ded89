"""The JSON Schema of what is published, held against payloads by another library."""

from __future__ import annotations

import json
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError

from service.signals.payloads import MODELS, schemas
from service.signals.topics import signals
from tests.service.alerts.scene import NOW, board, mould, ready


def payload(topic: str) -> dict[str, Any]:
    shown = signals(board(mould(), ready(id=4)), "coatbell/1", (), NOW)
    loaded: dict[str, Any] = json.loads(shown[f"coatbell/1/{topic}"])
    return loaded


@pytest.mark.parametrize(
    ("kind", "topic"), [("mould", "mould/3"), ("mould", "mould/4"), ("room", "room/1"), ("shop", "shop")]
)
def test_what_is_published_fits_its_schema(kind: str, topic: str) -> None:
    Draft202012Validator.check_schema(schemas()[kind])
    Draft202012Validator(schemas()[kind]).validate(payload(topic))


@pytest.mark.parametrize(
    "wrong", [{"version": 2}, {"state": "asleep"}, {"coat": "five"}, {"id": None}, {"colour": "green"}]
)
def test_what_does_not_fit_is_found(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        Draft202012Validator(schemas()["mould"]).validate({**payload("mould/3"), **wrong})


def test_each_kind_has_one() -> None:
    assert set(schemas()) == set(MODELS) == {"mould", "room", "shop"}


# Version 1 as it was published first: fields may be added, none may go or change its name.
FIRST = {
    "mould": "version id name room state stage coat of kind tank due_at dip_before wires_first guessing on_the_way",
    "room": "version id name light moulds due next_due_at",
    "shop": "version name demo light moulds due next_due_at troubles",
}


@pytest.mark.parametrize("kind", FIRST)
def test_what_version_1_promised_is_there(kind: str) -> None:
    assert set(FIRST[kind].split()) <= set(schemas()[kind]["properties"])
