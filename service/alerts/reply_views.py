"""What the page behind a message's link needs to know, as plain frozen data."""

from __future__ import annotations

from dataclasses import dataclass

from service.room.views import Hand, OpenBell


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a link asks of whom, as it stands now.

    bells: those of its messages that are still true. hands: what anybody said to them and still holds. said: what
    this person said since the message went out, held or not. others: who else is told of such things.
    """

    person: str
    bells: tuple[OpenBell, ...]
    hands: tuple[Hand, ...]
    said: frozenset[str]
    others: tuple[str, ...]
    snooze_s: float

    @property
    def moulds(self) -> tuple[str, ...]:
        """Their names, each once."""
        return tuple(dict.fromkeys(bell.mould for bell in self.bells))

    @property
    def pages(self) -> tuple[tuple[int, str], ...]:
        """Number and name of each mould, each once."""
        return tuple(dict.fromkeys((bell.mould_id, bell.mould) for bell in self.bells))

    @property
    def own(self) -> Hand | None:
        """What this person said and holds."""
        return next((hand for hand in self.hands if hand.name == self.person), None)

    @property
    def coming(self) -> tuple[Hand, ...]:
        """Who else is on the way."""
        return tuple(h for h in self.hands if h.name != self.person and h.said == "on my way")
