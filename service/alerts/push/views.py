"""What a page or program is shown of the browsers that are rung, and what a browser hands over. Frozen data."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

LONGEST_NAME = 60
"""Of a device, in letters."""


@dataclass(frozen=True, slots=True)
class Device:
    """A browser that is rung. mark: by which it knows itself, without its address being told."""

    id: int
    person: str
    device: str
    mark: str
    made_at: datetime


@dataclass(frozen=True, slots=True)
class Lost:
    """A browser whose push service said that it takes no more messages, and when."""

    person: str
    device: str
    at: datetime


@dataclass(frozen=True, slots=True)
class PushNow:
    """What a page needs. public_key: as browsers want it; None: switched off, and `why_off` says why."""

    public_key: str | None
    why_off: str
    people: tuple[str, ...]
    devices: tuple[Device, ...]
    lost: tuple[Lost, ...]


@dataclass(frozen=True, slots=True)
class Subscription:
    """What a browser hands over when it is switched on: its address, and its keys as base64url."""

    endpoint: str
    p256dh: str
    auth: str
