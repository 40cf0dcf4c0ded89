"""Taking back a change of what a mould is: what held before is said again. Pure."""

from __future__ import annotations

from datetime import datetime

from service.errors import BadInput, Conflict
from service.records.facts import Fact, MouldBody
from service.room.progress import rooms_of
from service.voice import say


def undone_change(facts: list[Fact], change: Fact) -> tuple[MouldBody, datetime]:
    """What is to be said instead of a change, and of which instant, so that the mould hung where it did before.

    facts: all of the mould, in the order they were recorded. Raises BadInput where there was no change, Conflict where
    the change moved the mould over more than one stay.
    """
    before = next((f for f in facts if f.number == change.replaces), None)
    if before is None or not isinstance(before.body, MouldBody) or not isinstance(change.body, MouldBody):
        raise BadInput(
            "mould_not_undone", say("A mould cannot be unhung."), say("End it as scrapped, and say why.")
        )
    body = before.body.model_copy(update={"recipe": change.body.recipe})
    hung = rooms_of([f for f in facts if f.number < change.number])
    for at in (before.at, change.at):
        said = Fact(change.number + 1, change.mould_id, at, at, "", body, change.number, None, "")
        if rooms_of([*(f for f in facts if f.number <= change.number), said]) == hung:
            return body, at
    raise Conflict(
        "undo_by_hand",
        say("That change took a whole stay in another room out of the record."),
        say("Change the mould again instead: choose its room, and say since when it hangs there."),
    )
