"""Messages told, as JSON, and how coatbell itself is."""

from __future__ import annotations

from datetime import datetime

from pydantic import AliasChoices, Field

from api.models import EXAMPLE_TIME, In, Out, example
from api.mould_models import TroubleOut
from service.alerts.replies import Said
from service.records.plain import Name

DELIVERY = {
    "recipient": "shop phone",
    "attempts": 1,
    "delivered_at": EXAMPLE_TIME,
    "last_try_at": EXAMPLE_TIME,
    "next_try_at": None,
    "error": None,
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


class DeliveryOut(Out):
    """One message to one recipient. Neither delivered nor a next try: given up."""

    model_config = example(DELIVERY)
    recipient: str
    attempts: int
    delivered_at: datetime | None
    last_try_at: datetime | None
    next_try_at: datetime | None
    error: str | None


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
    """One line a recipient: how it went."""

    model_config = example({"told": ["shop phone: told"]})
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
