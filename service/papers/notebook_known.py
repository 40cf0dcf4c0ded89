"""Moulds recorded in coatbell itself: one that stands in the notebook as well must not become a second one."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple

from service.papers.notebook_lines import Fault
from service.papers.notebook_plan import Mould
from service.records.plain import spelling
from service.records.store import Records
from service.room.progress import progress
from service.voice import later, say

TODO = later("Leave it out if it is the same one; give it another name if it is not.")


class Kept(NamedTuple):
    """A mould recorded in coatbell itself. `ended_at` None: it hangs."""

    name: str
    started_at: datetime
    ended_at: datetime | None

    def beside(self, mould: Mould) -> bool:
        """Whether both were in the shell room at one time, as far as is told."""
        ended_before = mould.ended is not None and mould.until < self.started_at
        return not ended_before and (self.ended_at is None or mould.since <= self.ended_at)


def kept_moulds(records: Records, names: Iterable[str]) -> dict[str, list[Kept]]:
    """Those of these names, as a reader takes two names for one; by the spelling they have in common."""
    asked = {spelling(name) for name in names}
    left = {line.id for line in records.mould_lines() if spelling(line.name) in asked}
    found: dict[str, list[Kept]] = {}
    for mould_id, facts in records.facts_of([*records.mould_ids(ended=False), *left]).items():
        p = progress(mould_id, facts)
        if spelling(p.body.name) in asked and not p.body.from_notebook:
            kept = Kept(p.body.name, p.started_at, p.ended.at if p.ended else None)
            found.setdefault(spelling(kept.name), []).append(kept)
    return found


def there_already(mould: Mould, kept: dict[str, list[Kept]]) -> Fault | None:
    """Why a mould of the notebook is not taken in: coatbell followed one of that name at the same time."""
    if not any(each.beside(mould) for each in kept.get(spelling(mould.name), [])):
        return None
    message = say("A mould of that name was in the shell room then, and is recorded in coatbell itself.")
    return Fault(mould.lines[0], "", message, say(TODO), mould.name)
