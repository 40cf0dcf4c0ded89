"""What a change of a mould changed, as a sentence: ``Moved to Lean-to``, ``Hook 4 instead of 3``."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from service.records.facts import Fact, MouldBody
from service.records.shop_facts import Room

TEXTS = ("name", "piece", "customer", "hook")
REST = {
    "size": ("height_m", "width_m"),
    "wax": ("wax_mass_kg",),
    "the date it is wanted by": ("wanted_by",),
    "the places that dry": ("zones",),
}


def room_name(room_id: int, rooms: Sequence[Room]) -> str:
    return next((room.name for room in rooms if room.id == room_id), f"room {room_id}")


def change_line(new: Fact, old: Fact, rooms: Sequence[Room]) -> str:
    """All that differs from the fact it replaces."""
    assert isinstance(new.body, MouldBody)
    assert isinstance(old.body, MouldBody)
    said = [*_stay(new, old, new.body, old.body, rooms), *_texts(new.body, old.body)]
    changed = [what for what, fields in REST.items() if _differ(new.body, old.body, fields)]
    said += [f"changed {' and '.join(changed)}"] if changed else []
    line = "; ".join(said) or "written down again, nothing changed"
    return line[0].upper() + line[1:]


def _stay(new: Fact, old: Fact, now: MouldBody, before: MouldBody, rooms: Sequence[Room]) -> Iterator[str]:
    here = room_name(now.room_id, rooms)
    if now.room_id == before.room_id:
        if new.at != old.at:
            yield f"in {here} since then"
    elif new.at > old.at:
        yield f"moved to {here}"
    else:
        yield f"in {here} instead of {room_name(before.room_id, rooms)}"


def _texts(new: MouldBody, old: MouldBody) -> Iterator[str]:
    for field in TEXTS:
        now, before = getattr(new, field), getattr(old, field)
        if now != before:
            yield f"{field} {now or 'none'} instead of {before}" if before else f"{field} {now}"


def _differ(new: MouldBody, old: MouldBody, fields: Sequence[str]) -> bool:
    return any(getattr(new, field) != getattr(old, field) for field in fields)
