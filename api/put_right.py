"""What was put right: what was said first, by whom and when, beside what holds instead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from api.fact_words import fact_line, replaced
from service import words
from service.records.facts import Fact, WithdrawnBody
from service.records.shop_facts import Room, Site
from service.voice import say


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
    what = fact_line(old, site, facts, rooms)
    said = say("{at}, {hand}: {what}", at=at, hand=old.hand, what=what) if old.hand else f"{at}: {what}"
    return said if written == at else say("{said}, written down {at}", said=said, at=written)


def _holds(new: Fact, facts: Sequence[Fact], site: Site | None, rooms: Sequence[Room]) -> str:
    at = words.dated(new.recorded_at, site)
    if isinstance(new.body, WithdrawnBody):
        back = (
            say("taken back {at} by {hand}", at=at, hand=new.hand)
            if new.hand
            else say("taken back {at}", at=at)
        )
        return f"{back}: {new.body.text}" if new.body.text else back
    done = say("put right {at} by {hand}", at=at, hand=new.hand) if new.hand else say("put right {at}", at=at)
    return f"{words.dated(new.at, site)}: {fact_line(new, site, facts, rooms)}; {done}"
