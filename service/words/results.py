"""How a mould came out, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from service.records.facts import Failing
from service.room.views import MouldNow, Stage
from service.terms import term
from service.voice import later, say

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
    later("outside of"),
    *("bajo", "debajo", "dentro", "detrás", "entre", "sobre", "encima", "en", "junto", "cerca", "fuera"),
)
"""English and Spanish: a place is called as somebody typed it, whoever reads it."""


def place_words(zone: str | None, coat: int | None) -> str:
    """`` at the base, coat 3``, `` under the wing``; empty where neither is known."""
    at = _at(zone) if zone else ""
    of_coat = say("coat {coat}", coat=coat) if coat else ""
    told = ", ".join(part for part in (at, of_coat) if part)
    return f" {told}" if told else ""


def _at(zone: str) -> str:
    """``at the base``; a place that brings its own word with it stays as it is."""
    told = zone.lower().startswith(tuple(f"{word} " for word in PREPOSITIONS))
    return zone if told else say("at {zone}", zone=zone)


def failing_lines(failings: Sequence[Failing]) -> str:
    """``run-out at the base, coat 3; fin``."""
    return "; ".join(
        f"{term(failing.fault)}{place_words(failing.zone, failing.coat)}" for failing in failings
    )


def verdict_line(mould: MouldNow) -> str:
    """``Came out sound``, ``Failed: run-out at the base, coat 3; fin``. Empty while nobody has said."""
    if mould.verdict is None:
        return ""
    said = failing_lines(mould.failings)
    if mould.verdict == "sound":
        return say("Came out sound")
    return say("Failed: {said}", said=said) if said else say("Failed")


def came_out(verdict: str | None, faults: Sequence[str]) -> str:
    """``sound``, ``failed: run-out; fin``. Empty while nobody has said."""
    if verdict is None:
        return ""
    return ": ".join(part for part in (term(verdict), "; ".join(map(term, faults))) if part)


def result_wanted(mould: MouldNow) -> bool:
    """Whether it has left the shell room and nobody has said yet how it came out."""
    return mould.stage is Stage.ENDED and mould.verdict is None


def result_question(mould: MouldNow) -> str:
    """What is to be told of one that has left: of one lost in the shell room, only what went wrong."""
    return say("What failed?") if mould.outcome in LOST else say("How did it come out?")
