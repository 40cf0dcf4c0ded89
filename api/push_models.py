"""Browsers that are rung, as JSON. Their addresses stay here: who knows one could ring it."""

from __future__ import annotations

from datetime import datetime

from pydantic import Field

from api.models import EXAMPLE_TIME, In, Out, example
from service.alerts.push.views import LONGEST_NAME, Subscription

EXAMPLE_POINT = "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4"
"""The receiver's key of RFC 8291 appendix A."""
DEVICE = {
    "id": 1,
    "person": "bench 1",
    "device": "phone",
    "mark": "5d41402abc4b2a76",
    "made_at": EXAMPLE_TIME,
}


class DeviceOut(Out):
    """A browser that is rung. `mark`: the first 16 digits of the SHA-256 of its endpoint."""

    model_config = example(DEVICE)
    id: int
    person: str
    device: str
    mark: str
    made_at: datetime


class LostOut(Out):
    """A browser whose push service said that it takes no more messages."""

    model_config = example({"person": "bench 1", "device": "old phone", "at": EXAMPLE_TIME})
    person: str
    device: str
    at: datetime


class PushOut(Out):
    """`public_key`: what a browser subscribes with, an uncompressed point of P-256 as base64url; null: switched off."""

    model_config = example(
        {"public_key": EXAMPLE_POINT, "why_off": "", "people": ["bench 1"], "devices": [DEVICE], "lost": []}
    )
    public_key: str | None
    why_off: str
    people: list[str]
    devices: list[DeviceOut]
    lost: list[LostOut]


class KeysIn(In):
    """Base64url."""

    p256dh: str = Field(min_length=80, max_length=100)
    auth: str = Field(min_length=16, max_length=32)


class SubscriptionIn(In):
    """As a browser's `PushSubscription.toJSON()` gives it."""

    endpoint: str = Field(min_length=1, max_length=2000)
    expirationTime: float | None = None
    keys: KeysIn

    def subscription(self) -> Subscription:
        return Subscription(self.endpoint, self.keys.p256dh, self.keys.auth)


class PushIn(In):
    """Whose browser, and what it is called. `replaces`: the mark of one whose owner and name it takes over instead."""

    model_config = In.model_config | example(
        {
            "subscription": {
                "endpoint": "https://push.example.org/v1/some-long-word",
                "expirationTime": None,
                "keys": {"p256dh": EXAMPLE_POINT, "auth": "BTBZMqHH6r4Tts7J_aSIgg"},
            },
            "person": "bench 1",
            "device": "phone",
        }
    )
    subscription: SubscriptionIn
    person: str = Field(default="", max_length=60)
    device: str = Field(default="", max_length=LONGEST_NAME)
    replaces: str = Field(default="", max_length=64)


class PushTestOut(Out):
    """Whether the push service took it; if not, why."""

    model_config = example({"taken": True, "words": ""})
    taken: bool
    words: str
