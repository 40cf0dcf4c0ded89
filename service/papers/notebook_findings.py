"""What came of a notebook: of the look at it, or of taking it in."""

from __future__ import annotations

from dataclasses import dataclass

from service.papers.notebook_lines import Fault
from service.papers.notebook_plan import LeftOut, Mould, Plan


@dataclass(frozen=True, slots=True)
class Findings:
    """What came of a notebook. `moulds`: to be taken in, or taken in; `before`: those that were already."""

    plan: Plan
    moulds: tuple[Mould, ...]
    before: tuple[Mould, ...]
    left_out: tuple[LeftOut, ...]
    faults: tuple[Fault, ...]
    taken: bool = False

    @property
    def whole(self) -> bool:
        """Whether no line was left out."""
        return not self.faults and not self.left_out
