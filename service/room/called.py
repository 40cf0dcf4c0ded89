"""Which bells still fit the moulds: a dip that was just recorded silences its own, before any message is settled."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from service.room.views import Called, MouldNow


def fitting(called: Called, moulds: Iterable[MouldNow]) -> Called:
    """The bells for the coat that comes next on a mould still here, and the hands for those moulds."""
    coats = {mould.id: mould.next_coat for mould in moulds}
    bells = tuple(b for b in called.bells if b.mould_id in coats and b.coat in (None, coats[b.mould_id]))
    ringing = {bell.mould_id for bell in bells}
    return replace(called, bells=bells, hands=tuple(h for h in called.hands if h.mould_id in ringing))
