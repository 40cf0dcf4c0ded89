"""What the board must show about messages that do not go out. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime

from service.alerts.rules import AlertRules
from service.records.outbox import DeliveryRow
from service.records.ways_store import WayOff
from service.room.views import Trouble

PUSH_FAILED, WAY_OFF, NO_WAY_LEFT = "push_failed", "way_off", "no_way_left"


def sending_troubles(
    off: Iterable[WayOff],
    cut_off: Mapping[str, datetime],
    failed: Iterable[DeliveryRow],
    rules: AlertRules,
) -> list[Trouble]:
    """Ways that are off; who has none left, and since when something waits for them; what failed, one a recipient."""
    others: dict[str, list[DeliveryRow]] = {}
    for delivery in failed:
        if delivery.recipient not in cut_off:
            others.setdefault(delivery.recipient, []).append(delivery)
    return [
        *(Trouble(WAY_OFF, way_off_words(row), row.since) for row in off),
        *(Trouble(NO_WAY_LEFT, _cut_off_words(name, rules), since) for name, since in cut_off.items()),
        *(_failed(name, rows, rules) for name, rows in others.items()),
    ]


def way_off_words(row: WayOff) -> str:
    """What happened to a way, and what to do."""
    return (
        f"{row.recipient}'s {row.way} refuses messages: {row.words}. Put its address right on the page “Set-up”, "
        "then send a test"
    )


def _cut_off_words(name: str, rules: AlertRules) -> str:
    why = "every way to them is off" if rules.ways_of(name) else "no way to them is named"
    return f"{name} cannot be told anything: {why}. What is for them waits"


def _failed(name: str, rows: list[DeliveryRow], rules: AlertRules) -> Trouble:
    many = "One message" if len(rows) == 1 else f"{len(rows)} messages"
    known = rules.recipient(name) is not None
    todo = "coatbell keeps trying" if known else "nobody of that name is told anything any more"
    since = min(row.opened_at for row in rows)
    return Trouble(PUSH_FAILED, f"{many} to {name} did not go out: {todo}", since)
