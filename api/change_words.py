"""What a change of a mould changed, as a sentence: ``Moved to Lean-to``, ``Hook 4 instead of 3``."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from service.listed import capital, listed
from service.records.facts import Fact, MouldBody
from service.records.shop_facts import Room
from service.voice import later, say

TEXTS = ("name", "piece", "customer", "hook")
REST = {
    later("size"): ("height_m", "width_m"),
    later("wax"): ("wax_mass_kg",),
    later("the date it is wanted by"): ("wanted_by",),
    later("the places that dry"): ("zones",),
}
FIELDS = {
    "name": (later("name {now}"), later("name {now} instead of {before}")),
    "piece": (later("piece {now}"), later("piece {now} instead of {before}")),
    "customer": (later("customer {now}"), later("customer {now} instead of {before}")),
    "hook": (later("hook {now}"), later("hook {now} instead of {before}")),
}


def room_name(room_id: int, rooms: Sequence[Room]) -> str:
    known = next((room.name for room in rooms if room.id == room_id), "")
    return known or say("room {number}", number=room_id)


def change_line(new: Fact, old: Fact, rooms: Sequence[Room]) -> str:
    """All that differs from the fact it replaces."""
    assert isinstance(new.body, MouldBody)
    assert isinstance(old.body, MouldBody)
    said = [*_stay(new, old, new.body, old.body, rooms), *_texts(new.body, old.body)]
    changed = [what for what, fields in REST.items() if _differ(new.body, old.body, fields)]
    said += [say("changed {what}", what=listed([say(what) for what in changed]))] if changed else []
    return capital("; ".join(said) or say("written down again, nothing changed"))


def _stay(new: Fact, old: Fact, now: MouldBody, before: MouldBody, rooms: Sequence[Room]) -> Iterator[str]:
    here = room_name(now.room_id, rooms)
    if now.room_id == before.room_id:
        if new.at != old.at:
            yield say("in {here} since then", here=here)
    elif new.at > old.at:
        yield say("moved to {here}", here=here)
    else:
        yield say("in {here} instead of {before}", here=here, before=room_name(before.room_id, rooms))


def _texts(new: MouldBody, old: MouldBody) -> Iterator[str]:
    for field in TEXTS:
        now, before = getattr(new, field), getattr(old, field)
        if now != before:
            first, changed = FIELDS[field]
            yield say(changed, now=now or say("none"), before=before) if before else say(first, now=now)


def _differ(new: MouldBody, old: MouldBody, fields: Sequence[str]) -> bool:
    return any(getattr(new, field) != getattr(old, field) for field in fields)
