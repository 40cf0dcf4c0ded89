"""What was put right: what was said first, by whom and when, beside what holds instead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from api.fact_words import fact_line, replaced
from service import words
from service.records.facts import Fact, WithdrawnBody
from service.records.shop_facts import Room, Site
from service.voice import later, say


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
    when = ", ".join(part for part in (at, old.hand) if part)
    line = f"{when}: {fact_line(old, site, facts, rooms)}"
    return line if written == at else say("{line}, written down {written}", line=line, written=written)


def _holds(new: Fact, facts: Sequence[Fact], site: Site | None, rooms: Sequence[Room]) -> str:
    when = words.dated(new.recorded_at, site)
    if isinstance(new.body, WithdrawnBody):
        done = _by(new.hand, when, later("taken back {when}"), later("taken back {when} by {hand}"))
        return f"{done}: {new.body.text}" if new.body.text else done
    done = _by(new.hand, when, later("put right {when}"), later("put right {when} by {hand}"))
    return f"{words.dated(new.at, site)}: {fact_line(new, site, facts, rooms)}; {done}"


def _by(hand: str, when: str, nobody: str, somebody: str) -> str:
    return say(somebody, when=when, hand=hand) if hand else say(nobody, when=when)
