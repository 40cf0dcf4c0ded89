"""The rule for learning a thing of the shop anew. Pure."""

from __future__ import annotations

from collections.abc import Iterable

from service.errors import NotFound
from service.room.learned_views import LearnedEffect
from service.voice import say


def check_learned(learned: Iterable[LearnedEffect], effect: str, of: str) -> None:
    """Only what was learned can be learned anew; effect "": all of it, whatever that is."""
    if effect and all((each.kind.value, each.of) != (effect, of) for each in learned):
        raise NotFound(
            "not_learned",
            say("Nothing was learned of that yet."),
            say("Load the page again, and choose one of what stands there."),
            "effect",
        )
