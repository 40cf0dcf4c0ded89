"""The ways by which each person and place can be reached, in the order in which they are tried."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from service.alerts.notifiers.notifier import Notifier
from service.records.ways_store import WayOff

MARK_LENGTH = 16


@dataclass(frozen=True, slots=True)
class Way:
    """One way to one recipient. `mark`: changes with the address, and does not tell it.

    extra: tried beside the others, not in their place (a browser that is pushed to).
    """

    recipient: str
    name: str
    mark: str
    notifier: Notifier
    extra: bool = False


class Ways(Protocol):
    """Asked anew at each sending: a browser may have been added since."""

    def all(self) -> Sequence[Way]:
        """Every way to everybody, each recipient's in the order in which they are tried."""

    def close(self) -> None:
        """Give up what is being sent."""


class FixedWays:
    """Ways that stay as they are: those of alerts.toml, or a test's."""

    def __init__(self, ways: Iterable[Way]) -> None:
        self._ways = tuple(ways)

    def all(self) -> Sequence[Way]:
        return self._ways

    def close(self) -> None:
        for way in self._ways:
            way.notifier.close()


def without_a_way(names: Iterable[str], ways: Iterable[Way], off: Iterable[WayOff]) -> frozenset[str]:
    """Those of them who cannot be reached: every way is switched off, or there is none."""
    dead = {(way.recipient, way.mark) for way in off}
    open_to = {way.recipient for way in ways if (way.recipient, way.mark) not in dead}
    return frozenset(names) - open_to


def mark_of(address: str) -> str:
    """A short word that differs from address to address, and from which no address can be told."""
    return hashlib.sha256(address.encode()).hexdigest()[:MARK_LENGTH]
