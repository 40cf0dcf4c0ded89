"""How each factor is looked at: as a yes or no where any at all is what matters, else as a number."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from service.failures.views import Dot
from service.room.views import Factor, ShellSummary

YES_NO = frozenset({Factor.EARLY_DIPS, Factor.COATS_SHORT, Factor.WIRES_SHORT, Factor.LATE_DIPS})
"""Counts that are 0 in a shell made as asked. Looked at in one way only: each more is one more chance to be fooled."""

Dots = Mapping[Factor, Mapping[int, Dot]]


def has(value: float) -> bool:
    """A yes. Fewer than none (more coats than asked) is a no."""
    return value > 0


def known(shells: Sequence[ShellSummary]) -> Dots:
    """Each factor of each shell it is known for, by mould. What is not known is left out, never filled in."""
    return {factor: _known(factor, shells) for factor in Factor}


def _known(factor: Factor, shells: Sequence[ShellSummary]) -> dict[int, Dot]:
    values = [(shell, shell.factors.get(factor)) for shell in shells]
    return {
        shell.mould_id: Dot(shell.mould_id, shell.name, shell.recipe, float(value))
        for shell, value in values
        if value is not None and math.isfinite(value)
    }
