"""Keeps one broken sensor from filling the records with the same complaint."""

from __future__ import annotations

from dataclasses import replace

from service.held import held
from service.reading import Quantity, Reason, Rejected

EVERY_S = 60.0
UNKNOWN_TOPIC_EVERY_S = 3600.0  # nothing changes there until somebody edits sensors.toml
MOST_KINDS = 1000

Complaint = tuple[str, Quantity | None, Reason]


class RejectLimit:
    """Lets the first complaint of a kind through, then one a minute, with a count of those left out."""

    def __init__(self) -> None:
        self._since: dict[Complaint, tuple[float, int]] = {}

    def pass_on(self, rejected: Rejected, now_s: float) -> Rejected | None:
        """The complaint to keep, or None. `now_s`: monotonic."""
        kind = (rejected.topic, rejected.quantity, rejected.reason)
        last_s, left_out = self._since.get(kind, (-float("inf"), 0))
        if now_s - last_s < _every_s(rejected.reason):
            self._since[kind] = (last_s, left_out + 1)
            return None
        self._remember(kind, now_s)
        if not left_out:
            return rejected
        return replace(
            rejected,
            words=held(
                "{words} ({number} more like it since the one kept before.)",
                words=rejected.words,
                number=left_out,
            ),
        )

    def _remember(self, kind: Complaint, now_s: float) -> None:
        self._since.pop(kind, None)
        while len(self._since) >= MOST_KINDS:
            self._since.pop(next(iter(self._since)))
        self._since[kind] = (now_s, 0)


def _every_s(reason: Reason) -> float:
    return UNKNOWN_TOPIC_EVERY_S if reason is Reason.UNKNOWN_TOPIC else EVERY_S
