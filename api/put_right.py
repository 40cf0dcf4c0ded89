"""What was put right: what was said first, by whom and when, beside what holds instead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from api.fact_words import fact_line, replaced
from service import words
from service.records.facts import Fact, WithdrawnBody
from service.records.shop_facts import Room, Site


@dataclass(frozen=True, slots=True)
class PutRight:
    """Two halves of one line: ``Coat 3, backup, ...`` and what holds."""

    number: int
    first_said: str
    holds: str


def put_right(facts: Sequence[Fact], site: Site | None, rooms: Sequence[Room]) -> list[PutRight]:
    """Every correction and everything taken back, in the order it was done."""
    pairs = [(fact, old) for fact in facts if (old := replaced(fact, facts)) is not None]
    return [
        PutRight(new.number, _first(old, facts, site, rooms), _holds(new, facts, site, rooms))
        for new, old in pairs
    ]


def _first(old: Fact, facts: Sequence[Fact], site: Site | None, rooms: Sequence[Room]) -> str:
    at, written = words.dated(old.at, site), words.dated(old.recorded_at, site)
    by = f", {old.hand}" if old.hand else ""
    later = f", written down {written}" if written != at else ""
    return f"{at}{by}: {fact_line(old, site, facts, rooms)}{later}"


def _holds(new: Fact, facts: Sequence[Fact], site: Site | None, rooms: Sequence[Room]) -> str:
    by = f" by {new.hand}" if new.hand else ""
    done = f"put right {words.dated(new.recorded_at, site)}{by}"
    if isinstance(new.body, WithdrawnBody):
        why = f": {new.body.text}" if new.body.text else ""
        return f"taken back {words.dated(new.recorded_at, site)}{by}{why}"
    return f"{words.dated(new.at, site)}: {fact_line(new, site, facts, rooms)}; {done}"
