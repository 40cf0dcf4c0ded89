"""What an effect of the shop is of, as one text: a hook in a room, or a recipe's coats of a kind. Pure."""

from __future__ import annotations

from service.records.plain import spelling
from service.records.recipes import CoatKind

BETWEEN = "/"


def of_place(room_id: int, hook: str) -> str:
    """A hook in a room, however it is spelled; without one, somewhere in the room."""
    return f"{room_id}{BETWEEN}{spelling(hook.strip())}"


def of_coats(recipe: str, kind: CoatKind) -> str:
    """A recipe's coats of one kind."""
    return f"{recipe}{BETWEEN}{kind.value}"


def place_of(of: str) -> tuple[int, str]:
    """The number of the room, and the hook as `spelling` has it: the other way round from `of_place`."""
    room_id, _, hook = of.partition(BETWEEN)
    return int(room_id), hook


def coats_of(of: str) -> tuple[str, CoatKind]:
    """The recipe's name and the kind: the other way round from `of_coats`."""
    recipe, _, kind = of.rpartition(BETWEEN)
    return recipe, CoatKind(kind)
