"""A line of the ledger as a sentence."""

from __future__ import annotations

from collections.abc import Sequence

from api.change_words import change_line, room_name
from service import words
from service.listed import capital
from service.records.facts import (
    CheckBody,
    DipBody,
    EndedBody,
    FaceBody,
    Fact,
    LearnAnewBody,
    MouldBody,
    NoteBody,
    PhotoBody,
    ResultBody,
    SensorOnBody,
    TankCheckBody,
    ToldBody,
    WeightBody,
    WiresBody,
)
from service.records.shop_facts import Room, Site
from service.terms import term
from service.voice import say


def fact_line(fact: Fact, site: Site | None, facts: Sequence[Fact] = (), rooms: Sequence[Room] = ()) -> str:
    """What a fact says: ``Coat 5, backup, dipped from the grey tank``.

    facts: those of the same mould, rooms: the shop's; to tell where it hung and what a change changed.
    """
    body = fact.body
    if isinstance(body, MouldBody):
        old = replaced(fact, facts)
        return change_line(fact, old, rooms) if old else _hung_line(body, rooms)
    if isinstance(body, DipBody):
        return _dip_line(body)
    if isinstance(body, WiresBody):
        return say("Wires set on coat {coat}", coat=body.after_coat) + _tail(body.text)
    if isinstance(body, CheckBody):
        return _check_line(body)
    if isinstance(body, NoteBody):
        if body.problem:
            return words.problem_note(body.problem, body.over, body.text)
        return say("Note: {text}", text=body.text)
    if isinstance(body, WeightBody):
        return words.weighed_line(body.mass_kg, body.scale, site)
    if isinstance(body, FaceBody):
        return words.face_line(body, site)
    if isinstance(body, SensorOnBody):
        return words.sensor_on_line(body)
    if isinstance(body, EndedBody):
        return say("Left the shell room, {outcome}", outcome=term(body.outcome)) + _tail(body.text)
    if isinstance(body, ResultBody):
        came_out = say("Came out {verdict}", verdict=term(body.verdict))
        return came_out + _tail(words.failing_lines(body.failings)) + _tail(body.text)
    if isinstance(body, PhotoBody):
        return say("Photo") + words.place_words(body.zone, body.coat) + _tail(body.text)
    if isinstance(body, TankCheckBody):
        checked = capital(say("{tank} checked", tank=words.tank_words(body.tank)))
        return checked + _tail(_small(words.tank_check_line(fact, site)))
    if isinstance(body, ToldBody):
        return say("Told {recipient}: {title}", recipient=body.recipient, title=body.title)
    if isinstance(body, LearnAnewBody):
        return words.anew_line(body, words.Names(rooms))
    return say("Record {number} taken back", number=fact.replaces) + _tail(body.text)


def _dip_line(body: DipBody) -> str:
    told = {"coat": body.coat, "kind": term(body.coat_kind), "tank": words.tank_words(body.tank)}
    if body.early_reason:
        return say(
            "Coat {coat}, {kind}, dipped from {tank}, though not ready: {reason}",
            reason=body.early_reason,
            **told,
        )
    return say("Coat {coat}, {kind}, dipped from {tank}", **told)


def _check_line(body: CheckBody) -> str:
    if body.zone:
        return say("Felt {verdict} at {zone}", verdict=term(body.verdict), zone=body.zone)
    return say("Felt {verdict}", verdict=term(body.verdict))


def replaced(fact: Fact, facts: Sequence[Fact]) -> Fact | None:
    """The fact in whose place this one stands."""
    return next((f for f in facts if f.number == fact.replaces), None)


def _hung_line(body: MouldBody, rooms: Sequence[Room]) -> str:
    about = {"mould": body.name, "recipe": body.recipe.title}
    if not rooms:
        return say("Hung up: {mould}, recipe {recipe}", **about)
    return say("Hung up in {room}: {mould}, recipe {recipe}", room=room_name(body.room_id, rooms), **about)


def fate(fact: Fact, facts: Sequence[Fact]) -> str:
    """What became of a fact: ``""``, ``corrected by 14`` or ``taken back by 14``."""
    after = next((f for f in facts if f.replaces == fact.number), None)
    if after is None:
        return ""
    if after.body.kind == "withdrawn":
        return say("taken back by {number}", number=after.number)
    return say("corrected by {number}", number=after.number)


def _small(line: str) -> str:
    """Within a sentence; ``pH`` and a remark stay as they are."""
    starts = tuple(
        capital(words_of.partition("{")[0]) for words_of in (say("flow cup {flow_s:g} s"), say("made new"))
    )
    return line[:1].lower() + line[1:] if line.startswith(starts) else line


def _tail(text: str) -> str:
    return f": {text}" if text else ""
