"""Hooks to choose from: those that were set up and those in use, free ones first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from service.records.plain import by_number, spelling
from service.room.views import MouldNow


@dataclass(frozen=True, slots=True)
class Hook:
    """A hook by its name, and what hangs there; nothing: it is free."""

    name: str
    moulds: tuple[str, ...]


def hooks_of(set_up: Iterable[str], moulds: Iterable[MouldNow], but: int | None = None) -> list[Hook]:
    """Every hook once, numbers in their order. `but`: the mould that is to be moved; its own hook is not offered."""
    here = [mould for mould in moulds if mould.hook.strip()]
    own = {spelling(mould.hook) for mould in here if mould.id == but}
    names = {spelling(name): name for name in [*(m.hook.strip() for m in here), *set_up]}
    hooks = [
        Hook(name, tuple(m.name for m in here if spelling(m.hook.strip()) == spelled))
        for spelled, name in names.items()
        if spelled not in own
    ]
    return sorted(hooks, key=lambda hook: (bool(hook.moulds), by_number(hook.name)))
