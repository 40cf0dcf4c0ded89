"""What coatbell publishes over MQTT, described for programs."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter

from api.models import READ
from service.signals.payloads import DRAFT, MODELS, schemas

router = APIRouter(prefix="/api", tags=["the shop"])

EXAMPLE = {name: {"$schema": DRAFT} for name in MODELS}
SCHEMA: dict[int | str, dict[str, Any]] = {
    200: {"content": {"application/json": {"schema": {"type": "object", "example": EXAMPLE}}}}
}


@router.get(
    "/signals/schema", summary="JSON Schema of the MQTT topics that are JSON", responses={**SCHEMA, **READ}
)
def schema() -> dict[str, dict[str, Any]]:
    """One each for a `mould`, a `room` and the `shop`."""
    return schemas()
