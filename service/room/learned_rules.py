"""The rules for learning a thing of the shop anew. Pure."""

from __future__ import annotations

from collections.abc import Iterable

from service.errors import BadInput, NotFound
from service.records.shop_facts import Room
from service.room.learned_views import LearnedEffect
from service.voice import say


def check_learned(learned: Iterable[LearnedEffect], effect: str, of: str) -> None:
    """Only what was learned can be learned anew; effect "": all of it, whatever that is."""
    if of and not effect:
        raise BadInput(
            "effect_missing",
            say("Of “{of}” it is not said what is to be learned anew.", of=of),
            say("Say which, or leave both out for all that was learned."),
            "effect",
        )
    if effect and all((each.kind.value, each.of) != (effect, of) for each in learned):
        raise _nothing_learned()


def check_room_learned(rooms: Iterable[Room], of: str) -> None:
    """A room there is, by its number."""
    if all(str(room.id) != of for room in rooms):
        raise _nothing_learned()


def _nothing_learned() -> NotFound:
    return NotFound(
        "not_learned",
        say("Nothing was learned of that yet."),
        say("Load the page again, and choose one of what stands there."),
        "effect",
    )
