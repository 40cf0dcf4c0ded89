"""Where the ledger ends, and which of its facts hold: one answer for every store."""

from __future__ import annotations

from sqlmodel import col, select

from service.records.database import Database
from service.records.facts import Fact, NoteBody, WithdrawnBody, live
from service.records.ledger import START as NOTHING
from service.records.ledger_asked import end_of, holds
from service.records.store import Records
from service.records.tables import FactTable
from tests.service.records.making import hang, minutes


def note(records: Records, text: str, replaces: int | None = None) -> Fact:
    return records.append(1, NoteBody(text=text), minutes(1), "bench 1", replaces=replaces)


def test_it_ends_at_its_newest_fact(records: Records, database: Database) -> None:
    with database.read() as session:
        assert end_of(session) == (0, NOTHING)
    hang(records)
    last = note(records, "drip")
    with database.read() as session:
        assert end_of(session) == (last.number, last.digest)


def test_without_an_end_it_ends_nowhere(records: Records, database: Database) -> None:
    hang(records)
    with database.write() as session:
        session.connection().exec_driver_sql("DELETE FROM ledger_head")
    with database.read() as session:
        assert end_of(session) == (0, NOTHING)


def test_what_was_corrected_or_taken_back_does_not_hold(records: Records, database: Database) -> None:
    hang(records)
    wrong = note(records, "drop")
    right = note(records, "drip", replaces=wrong.number)
    slip = note(records, "slip")
    records.append(1, WithdrawnBody(), minutes(2), "bench 1", replaces=slip.number)
    kept = note(records, "kept")
    with database.read() as session:
        rows = select(FactTable.number).where(FactTable.kind == "note", holds())
        found = session.exec(rows.order_by(col(FactTable.number))).all()
    assert found == [right.number, kept.number]
    assert set(found) < {fact.number for fact in live(records.facts(1))}
