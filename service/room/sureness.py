"""How sure the shop wants to be before a bell rings: the chance 0..1 that it is dry enough by then."""

from __future__ import annotations

from dataclasses import dataclass

from service.records.recipes import CoatKind

USUAL = 0.8


@dataclass(frozen=True, slots=True)
class Sureness:
    """By the kind of the coat that has to dry; `dewax`: of the whole shell after the last coat."""

    prime: float = USUAL
    backup: float = USUAL
    seal: float = USUAL
    dewax: float = USUAL

    def of(self, kind: CoatKind) -> float:
        return {CoatKind.PRIME: self.prime, CoatKind.BACKUP: self.backup, CoatKind.SEAL: self.seal}[kind]
