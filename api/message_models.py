"""Messages told, as JSON, and how coatbell itself is."""

from __future__ import annotations

from datetime import datetime

from pydantic import AliasChoices, Field

from api.models import EXAMPLE_TIME, In, Out, example
from api.mould_models import TroubleOut
from service.alerts.replies import Said
from service.records.plain import Name

TRY = {
    "way": "ntfy",
    "begun_at": EXAMPLE_TIME,
    "ended_at": EXAMPLE_TIME,
    "outcome": "taken",
    "words": None,
    "repeat": False,
}
DELIVERY = {
    "recipient": "shop phone",
    "attempts": 1,
    "delivered_at": EXAMPLE_TIME,
    "last_try_at": EXAMPLE_TIME,
    "next_try_at": None,
    "error": None,
    "tries": [TRY],
}


REPLY = {"person": "bench 1", "said": "on my way", "at": EXAMPLE_TIME, "until": EXAMPLE_TIME}


class ReplyIn(In):
    """What somebody says to a message. *on my way* and *later* hold for as long as alerts.toml says."""

    model_config = example({"person": "bench 1", "said": "on my way"})
    person: Name = Field(min_length=1, max_length=60)
    said: Said


class ReplyOut(Out):
    """What somebody said. `until`: for how long it holds."""

    model_config = example(REPLY)
    person: str
    said: str = Field(validation_alias=AliasChoices("what", "said"))
    at: datetime
    until: datetime | None


class TryOut(Out):
    """One attempt by one way. `outcome`: taken, refused, later, not reached, unclear; null: it runs, or broke off.

    repeat: one before it may have arrived.
    """

    model_config = example(TRY)
    way: str
    begun_at: datetime
    ended_at: datetime | None
    outcome: str | None
    words: str | None
    repeat: bool


class DeliveryOut(Out):
    """One message to one recipient. Neither delivered nor a next try: given up."""

    model_config = example(DELIVERY)
    recipient: str
    attempts: int
    delivered_at: datetime | None
    last_try_at: datetime | None
    next_try_at: datetime | None
    error: str | None
    tries: list[TryOut]


class WayOut(Out):
    """A way to reach somebody. `off_since`: since when it is not used, because it refused; `words`: what it said."""

    model_config = example({"name": "ntfy", "off_since": None, "words": ""})
    name: str
    off_since: datetime | None
    words: str


class RecipientOut(Out):
    """A person or place that is told, in words; never their addresses."""

    model_config = example(
        {
            "name": "bench 1",
            "what": "everything",
            "when": "told first; at work Mon to Fri 07:00 to 17:00",
            "ways": [{"name": "ntfy", "off_since": None, "words": ""}],
        }
    )
    name: str
    what: str
    when: str
    ways: list[WayOut]


class AlertOut(Out):
    """What was told, and whether it arrived. `since`: when it became true; `cleared_at`: when it no longer was."""

    model_config = example(
        {
            "id": 12,
            "key": "next-dip-due/3/3/41",
            "kind": "next dip due",
            "subject": "Heron",
            "mould_id": 3,
            "since": EXAMPLE_TIME,
            "title": "Heron: dip coat 4 of 9",
            "body": "Backup, from the grey tank. Ready since 14:05, 21.4 °C, 54 %.",
            "link": "http://127.0.0.1:8321/mould/3",
            "opened_at": EXAMPLE_TIME,
            "cleared_at": None,
            "deliveries": [DELIVERY],
            "replies": [REPLY],
        }
    )
    id: int
    key: str
    kind: str
    subject: str
    mould_id: int | None
    since: datetime | None
    title: str
    body: str
    link: str
    opened_at: datetime
    cleared_at: datetime | None
    deliveries: list[DeliveryOut]
    replies: list[ReplyOut]


class TestMessageOut(Out):
    """One line a way: how it went."""

    model_config = example({"told": ["bench 1 by ntfy: taken"]})
    told: list[str]


class HealthOut(Out):
    """How coatbell itself is. `status`: ok, or trouble if there is any."""

    model_config = example(
        {"status": "ok", "at": EXAMPLE_TIME, "moulds": 12, "board_version": 812, "troubles": []}
    )
    status: str
    at: datetime
    moulds: int
    board_version: int
    troubles: list[TroubleOut]
