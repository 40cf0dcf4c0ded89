"""How a mould came out, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from service.records.facts import Failing
from service.room.views import MouldNow, Stage

LOST = ("failed", "scrapped")
"""How a mould leaves the shell room without ever holding metal."""


PREPOSITIONS = (
    "under",
    "inside",
    "behind",
    "between",
    "below",
    "above",
    "over",
    "in",
    "on",
    "at",
    "near",
    "outside of",
)


def place_words(zone: str | None, coat: int | None) -> str:
    """`` at the base, coat 3``, `` under the wing``; empty where neither is known."""
    told = bool(zone) and str(zone).lower().startswith(tuple(f"{word} " for word in PREPOSITIONS))
    at = f"{'' if told else ' at'} {zone}" if zone else ""
    return f"{at}{',' if zone and coat else ''}{f' coat {coat}' if coat else ''}"


def failing_lines(failings: Sequence[Failing]) -> str:
    """``run-out at the base, coat 3; fin``."""
    return "; ".join(f"{failing.fault}{place_words(failing.zone, failing.coat)}" for failing in failings)


def verdict_line(mould: MouldNow) -> str:
    """``Came out sound``, ``Failed: run-out at the base, coat 3; fin``. Empty while nobody has said."""
    if mould.verdict is None:
        return ""
    said = failing_lines(mould.failings)
    return "Came out sound" if mould.verdict == "sound" else f"Failed{f': {said}' if said else ''}"


def result_wanted(mould: MouldNow) -> bool:
    """Whether it has left the shell room and nobody has said yet how it came out."""
    return mould.stage is Stage.ENDED and mould.verdict is None


def result_question(mould: MouldNow) -> str:
    """What is to be told of one that has left: of one lost in the shell room, only what went wrong."""
    return "What failed?" if mould.outcome in LOST else "How did it come out?"
