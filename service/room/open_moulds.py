"""The moulds still in the shell room, with their facts: read once, and from then on only what was recorded since."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from service.records.facts import EndedBody, Fact, MouldBody, live
from service.records.store import Records
from service.room.progress import Progress, progress


class OpenMoulds:
    """Follows the ledger. `facts` by mould, in the order they were recorded."""

    def __init__(self, records: Records) -> None:
        self._records = records
        self._number = -1
        self._facts: dict[int, list[Fact]] = {}
        self._progress: dict[int, Progress] = {}

    @property
    def facts(self) -> Mapping[int, Sequence[Fact]]:
        """As of when they were last followed."""
        return self._facts

    def follow(self) -> bool:
        """Take in what was recorded since the last time; whether that was anything."""
        number = self._records.last_fact_number()
        if number == self._number:
            return False
        if self._number < 0 or number < self._number:
            self._read_all(number)
        else:
            self._take_in(self._records.facts_since(self._number))
        return True

    def progress(self) -> list[Progress]:
        """How far each is, by number."""
        return [self._progress[mould_id] for mould_id in sorted(self._progress)]

    def _read_all(self, number: int) -> None:
        self._facts = self._records.facts_of(self._records.mould_ids(ended=False))
        self._progress = {mould_id: progress(mould_id, facts) for mould_id, facts in self._facts.items()}
        self._number = number
        # What came between is looked at twice, and found to be known.
        self._take_in(self._records.facts_since(number))

    def _take_in(self, news: Sequence[Fact]) -> None:
        by_mould: dict[int, list[Fact]] = {}
        for fact in news:
            if fact.mould_id is not None:
                by_mould.setdefault(fact.mould_id, []).append(fact)
        for mould_id, own in by_mould.items():
            self._put(mould_id, self._with(mould_id, own))
        self._number = max([self._number, *(fact.number for fact in news)])

    def _with(self, mould_id: int, news: Sequence[Fact]) -> list[Fact]:
        """One that comes back, an end undone, is read whole."""
        known = self._facts.get(mould_id)
        if known is None:
            return self._records.facts(mould_id)
        newest = known[-1].number
        return [*known, *(fact for fact in news if fact.number > newest)]

    def _put(self, mould_id: int, facts: list[Fact]) -> None:
        if _is_open(facts):
            self._facts[mould_id] = facts
            self._progress[mould_id] = progress(mould_id, facts)
        else:
            self._facts.pop(mould_id, None)
            self._progress.pop(mould_id, None)


def _is_open(facts: list[Fact]) -> bool:
    """Hung up, not taken back, and not left."""
    held = [type(fact.body) for fact in live(facts)]
    return MouldBody in held and EndedBody not in held
