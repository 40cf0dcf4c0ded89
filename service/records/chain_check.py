"""Looking over the ledger: one mould's lines at each look at its record, all of it every night."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sqlmodel import Session, col, select

from service.records.base_store import BaseStore
from service.records.ledger import START, Line, digest
from service.records.ledger_asked import end_of
from service.records.ledger_writer import line_of
from service.records.tables import FactTable


class ChainCheckStore(BaseStore):
    def mould_chain_broken_at(self, mould_id: int) -> int | None:
        """The number of a line of a mould that does not fit its neighbours in the chain; None if all fit.

        Each line is held against the digest of the line before it, and the line after against its own: a line
        changed, or changed with its digest, or standing where another was lost. What happened further off is found
        by `FactStore.verify_chain`, which takes seconds where this takes milliseconds.
        """
        with self._database.read() as session:
            own = session.exec(
                select(FactTable.number).where(FactTable.mould_id == mould_id).order_by(col(FactTable.number))
            ).all()
            lines, ends_at = _around(session, own), end_of(session)
        wrong = [number for number in own if not _fits_before(number, lines)]
        wrong += [number for number in own if not _fits_after(number, lines, *ends_at)]
        return wrong[0] if wrong else None


def _around(session: Session, numbers: Iterable[int]) -> Mapping[int, Line]:
    """The lines of these numbers, and those beside them."""
    wanted = sorted({near for number in numbers for near in (number - 1, number, number + 1)})
    found: dict[int, Line] = {}
    for start in range(0, len(wanted), 500):
        rows = select(FactTable).where(col(FactTable.number).in_(wanted[start : start + 500]))
        found |= {row.number: line_of(row) for row in session.exec(rows)}
    return found


def _fits_before(number: int, lines: Mapping[int, Line]) -> bool:
    line, before = lines[number], lines.get(number - 1)
    if before is None and number > 1:
        return False
    return line.digest == digest(before.digest if before else START, line)


def _fits_after(number: int, lines: Mapping[int, Line], head_number: int, head_digest: str) -> bool:
    line, after = lines[number], lines.get(number + 1)
    if after is None:
        return (number, line.digest) == (head_number, head_digest)
    return after.digest == digest(line.digest, after)
