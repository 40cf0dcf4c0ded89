"""Which facts belong to what is asked for. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from service.records.ledger_pages import Entry

MOULD = "mould"


def selected(
    entries: Sequence[Entry], mould_id: int | None, since: datetime | None, until: datetime | None
) -> list[int]:
    """The numbers of the facts, in order.

    Of a span of days it is what happened in it, with all corrections of that, whenever made and whatever they
    replace: a line without the one that took it back would tell an untruth. What each mould is comes along as well.
    """
    roots = chains(entries)
    mine = [entry for entry in entries if mould_id in (None, entry.mould_id)]
    inside = {
        roots[e.number] for e in mine if (since is None or e.at >= since) and (until is None or e.at < until)
    }
    moulds = {e.mould_id for e in mine if roots[e.number] in inside}
    inside |= {roots[e.number] for e in mine if e.kind == MOULD and e.mould_id in moulds}
    return [entry.number for entry in mine if roots[entry.number] in inside]


def chains(entries: Sequence[Entry]) -> dict[int, int]:
    """For each fact the first one of its chain of corrections."""
    roots: dict[int, int] = {}
    for entry in entries:
        roots[entry.number] = (
            entry.number if entry.replaces is None else roots.get(entry.replaces, entry.number)
        )
    return roots


def replaced_by(entries: Sequence[Entry]) -> dict[int, Entry]:
    """For each fact that no longer holds the one that corrected it or took it back."""
    return {entry.replaces: entry for entry in entries if entry.replaces is not None}


def describing(entries: Sequence[Entry]) -> dict[int, int]:
    """For each mould the number of the fact that now says what it is."""
    return {e.mould_id: e.number for e in entries if e.kind == MOULD and e.mould_id is not None}
