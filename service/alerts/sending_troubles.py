"""What the board must show about messages that do not go out. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from functools import partial

from service.alerts.rules import AlertRules
from service.held import Held
from service.records.outbox import DeliveryRow
from service.records.ways_store import WayOff
from service.room.views import Trouble
from service.voice import later_many, say, say_many

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
        *(Trouble(WAY_OFF, Held(partial(way_off_words, row)), row.since) for row in off),
        *(
            Trouble(NO_WAY_LEFT, Held(partial(_cut_off_words, name, rules)), since)
            for name, since in cut_off.items()
        ),
        *(_failed(name, rows, rules) for name, rows in others.items()),
    ]


def way_off_words(row: WayOff) -> str:
    """What happened to a way, and what to do."""
    return say(
        "{recipient}'s {way} refuses messages: {row}. Put its address right on the page “Set-up”, then send a test",
        recipient=row.recipient,
        way=row.way,
        row=row.words,
    )


def _cut_off_words(name: str, rules: AlertRules) -> str:
    if rules.ways_of(name):
        return say(
            "{name} cannot be told anything: every way to them is off. What is for them waits", name=name
        )
    return say("{name} cannot be told anything: no way to them is named. What is for them waits", name=name)


def _failed(name: str, rows: list[DeliveryRow], rules: AlertRules) -> Trouble:
    known = rules.recipient(name) is not None
    since = min(row.opened_at for row in rows)
    words = Held(partial(say_many, *(KEPT_UP if known else UNKNOWN), len(rows), name=name))
    return Trouble(PUSH_FAILED, words, since)


KEPT_UP = later_many(
    "One message to {name} did not go out: coatbell keeps trying",
    "{number} messages to {name} did not go out: coatbell keeps trying",
)
UNKNOWN = later_many(
    "One message to {name} did not go out: nobody of that name is told anything any more",
    "{number} messages to {name} did not go out: nobody of that name is told anything any more",
)
