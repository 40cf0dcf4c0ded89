"""What the shop said is to be learned anew, and from when on. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from service.learning.effect import Effect, EffectKind
from service.records.facts import Fact, LearnAnewBody, live


class Anew:
    """What was said to be learned anew. facts: all such, as recorded."""

    def __init__(self, facts: Sequence[Fact] = ()) -> None:
        held = [(fact.at.timestamp(), fact.body) for fact in live(list(facts))]
        self._said = [(at_s, body) for at_s, body in held if isinstance(body, LearnAnewBody)]

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Anew) and self._said == other._said

    __hash__ = None  # type: ignore[assignment]

    def effect(self, kind: EffectKind, of: str, at_s: float) -> Effect:
        """An effect as it counts for a dip: its epoch is how often it had been said to be learned anew by then."""
        return Effect(kind, of, sum(since_s <= at_s for since_s in self.times_s(kind, of)))

    def times_s(self, kind: EffectKind, of: str) -> list[float]:
        """When it was said of this effect, or of all there are."""
        return [
            at_s for at_s, body in self._said if not body.effect or (body.effect, body.of) == (kind.value, of)
        ]

    def until(self, at_s: float) -> str:
        """All that was said by then, as one text: what a mould taught that was dipped last at that time hangs on it."""
        return repr([(since_s, body.effect, body.of) for since_s, body in self._said if since_s <= at_s])
