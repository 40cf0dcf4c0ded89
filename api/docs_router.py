"""The JSON API as a page to read; the same as OpenAPI stands at /api/openapi.json."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from api.templating import render

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, slots=True)
class Endpoint:
    """One thing the API can be asked."""

    verb: str
    path: str
    summary: str
    about: str
    sent: str
    answered: str


@router.get("/api")
def api_root() -> Response:
    """On to the page that says what there is."""
    return RedirectResponse("/api/docs", 303)


@router.get("/api/docs")
def docs(request: Request) -> Response:
    """Every endpoint with an example."""
    return render(request, "api_docs.html", endpoints=list(endpoints(request.app.openapi())))


def endpoints(openapi: dict[str, Any]) -> Iterator[Endpoint]:
    """What the OpenAPI description lists, with examples resolved."""
    for path, verbs in openapi["paths"].items():
        for verb, route in verbs.items():
            sent = _example(openapi, route.get("requestBody", {}))
            good = next(answer for status, answer in route["responses"].items() if status < "300")
            about = _about(openapi, route.get("requestBody", {}))
            yield Endpoint(verb.upper(), path, route["summary"], about, sent, _example(openapi, good))


def _schema(openapi: dict[str, Any], content: dict[str, Any]) -> dict[str, Any]:
    return _resolved(openapi, _media(content).get("schema", {}))


def _media(content: dict[str, Any]) -> dict[str, Any]:
    """The one way it is written: JSON, or a form where a file is sent."""
    found: dict[str, Any] = next(iter(content.get("content", {}).values()), {})
    return found


def _resolved(openapi: dict[str, Any], schema: dict[str, Any]) -> dict[str, Any]:
    name = schema.get("$ref", "").rpartition("/")[2]
    found: dict[str, Any] = openapi["components"]["schemas"][name] if name else schema
    return found


def _example(openapi: dict[str, Any], content: dict[str, Any]) -> str:
    schema = _schema(openapi, content)
    if not schema:
        return ""
    if "example" in _media(content):
        return json.dumps(_media(content)["example"], indent=2, ensure_ascii=False)
    return json.dumps(_shown(openapi, schema), indent=2, ensure_ascii=False)


def _shown(openapi: dict[str, Any], schema: dict[str, Any]) -> Any:
    schema = _resolved(openapi, schema)
    if "example" in schema:
        return schema["example"]
    if "anyOf" in schema:
        return _shown(openapi, schema["anyOf"][0])
    if schema.get("type") == "array":
        return [_shown(openapi, schema["items"])]
    return {"string": "grey"}.get(schema.get("type", ""))


def _about(openapi: dict[str, Any], content: dict[str, Any]) -> str:
    return str(_schema(openapi, content).get("description", ""))
