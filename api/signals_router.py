"""What coatbell publishes over MQTT, described for programs."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter

from api.models import READ
from service.signals.payloads import schemas

router = APIRouter(prefix="/api", tags=["the shop"])


@router.get("/signals/schema", summary="JSON Schema of the MQTT topics that are JSON", responses=READ)
def schema() -> dict[str, dict[str, Any]]:
    """One each for a `mould`, a `room` and the `shop`."""
    return schemas()
