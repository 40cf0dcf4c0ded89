"""A line of the ledger as a sentence."""

from __future__ import annotations

from collections.abc import Sequence

from api.change_words import change_line, room_name
from service import words
from service.records.facts import (
    CheckBody,
    DipBody,
    EndedBody,
    Fact,
    MouldBody,
    NoteBody,
    PhotoBody,
    ResultBody,
    TankCheckBody,
    ToldBody,
    WeightBody,
    WiresBody,
)
from service.records.shop_facts import Room, Site


def fact_line(fact: Fact, site: Site | None, facts: Sequence[Fact] = (), rooms: Sequence[Room] = ()) -> str:
    """What a fact says: ``Coat 5, backup, dipped from the grey tank``.

    facts: those of the same mould, rooms: the shop's; to tell where it hung and what a change changed.
    """
    body = fact.body
    if isinstance(body, MouldBody):
        old = replaced(fact, facts)
        return change_line(fact, old, rooms) if old else _hung_line(body, rooms)
    if isinstance(body, DipBody):
        early = f", though not ready: {body.early_reason}" if body.early_reason else ""
        return f"Coat {body.coat}, {body.coat_kind}, dipped from {words.tank_words(body.tank)}{early}"
    if isinstance(body, WiresBody):
        return f"Wires set on coat {body.after_coat}{_tail(body.text)}"
    if isinstance(body, CheckBody):
        return f"Felt {body.verdict}{f' at {body.zone}' if body.zone else ''}"
    if isinstance(body, NoteBody):
        return (
            words.problem_note(body.problem, body.over, body.text) if body.problem else f"Note: {body.text}"
        )
    if isinstance(body, WeightBody):
        return words.weighed_line(body.mass_kg, body.scale, site)
    if isinstance(body, EndedBody):
        return f"Left the shell room, {body.outcome}{_tail(body.text)}"
    if isinstance(body, ResultBody):
        return f"Came out {body.verdict}{_tail(words.failing_lines(body.failings))}{_tail(body.text)}"
    if isinstance(body, PhotoBody):
        return f"Photo{words.place_words(body.zone, body.coat)}{_tail(body.text)}"
    if isinstance(body, TankCheckBody):
        return f"{_tank(body.tank)} checked{_tail(_small(words.tank_check_line(fact, site)))}"
    if isinstance(body, ToldBody):
        return f"Told {body.recipient}: {body.title}"
    return f"Record {fact.replaces} taken back{_tail(body.text)}"


def _tank(tank: str) -> str:
    """``The grey tank``: only its first letter changes, for a tank may be called ``B``."""
    said = words.tank_words(tank)
    return said[:1].upper() + said[1:]


def replaced(fact: Fact, facts: Sequence[Fact]) -> Fact | None:
    """The fact in whose place this one stands."""
    return next((f for f in facts if f.number == fact.replaces), None)


def _hung_line(body: MouldBody, rooms: Sequence[Room]) -> str:
    where = f" in {room_name(body.room_id, rooms)}" if rooms else ""
    return f"Hung up{where}: {body.name}, recipe {body.recipe.title}"


def fate(fact: Fact, facts: Sequence[Fact]) -> str:
    """What became of a fact: ``""``, ``corrected by 14`` or ``taken back by 14``."""
    after = next((f for f in facts if f.replaces == fact.number), None)
    if after is None:
        return ""
    return f"{'taken back' if after.body.kind == 'withdrawn' else 'corrected'} by {after.number}"


def _small(line: str) -> str:
    """Within a sentence; ``pH`` and a remark stay as they are."""
    return line[:1].lower() + line[1:] if line.startswith(("Flow cup", "Made new")) else line


def _tail(text: str) -> str:
    return f": {text}" if text else ""
