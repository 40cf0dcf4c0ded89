"""Forecasts of outside as somebody might send them."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any

from service.settings import Outdoor

NOW = datetime(2026, 3, 1, 14, 20, tzinfo=UTC)
HOUR = timedelta(hours=1)
THIS_HOUR = NOW.replace(minute=0)


def outdoor(**said: Any) -> Outdoor:
    return Outdoor.model_validate({"url": "https://weather.example/f.json", **said})


def hours(
    count: int = 49, since: datetime = THIS_HOUR, degc: float = 4.0, percent: float = 80.0
) -> list[dict[str, Any]]:
    """In coatbell's own format: one degree warmer each hour of the day, to know them by."""
    ats = [since + i * HOUR for i in range(count)]
    return [
        {"at": f"{at:%Y-%m-%dT%H:%M:%SZ}", "temperature": degc + 0.1 * at.hour, "humidity": percent}
        for at in ats
    ]


def body(rows: list[dict[str, Any]] | None = None, **more: Any) -> bytes:
    return json.dumps({"hours": hours() if rows is None else rows, **more}).encode()
