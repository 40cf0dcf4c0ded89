"""One mould's lines are held against their neighbours: what was done to them outside coatbell is seen at once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest
from sqlalchemy import event, text

from service.records.database import Database
from service.records.facts import NoteBody, TankCheckBody
from service.records.ledger import digest
from service.records.ledger_writer import line_of
from service.records.store import Records
from service.records.tables import FactTable
from tests.service.records.making import START, dip, hang


@pytest.fixture
def three(records: Records) -> Records:
    """Moulds 1, 2 and 3 with lines 1-3, then 4-6 of dips, a tank's 7, and 8 of mould 1."""
    for name in ("Redshank", "Dunlin", "Knot"):
        hang(records, name)
    for mould_id in (1, 2, 3):
        records.append(mould_id, dip(), START, "bench 1")
    records.append(None, TankCheckBody(tank="grey", ph=9.4), START, "bench 2")
    records.append(1, NoteBody(text="by the door"), START, "bench 1")
    return records


def tamper(database: Database, *statements: str) -> None:
    with database.write() as session:
        if database.file is None:
            session.execute(text("SET CONSTRAINTS ALL DEFERRED"))
        for statement in statements:
            session.execute(text(statement))


def broken(records: Records) -> list[int | None]:
    return [records.mould_chain_broken_at(mould_id) for mould_id in (1, 2, 3)]


def test_whole_it_is_whole(three: Records) -> None:
    assert broken(three) == [None, None, None]


def test_a_mould_that_is_not_there_has_nothing_broken(records: Records) -> None:
    assert records.mould_chain_broken_at(99) is None


@pytest.mark.parametrize(
    "change",
    [
        "hand = 'bench 9'",
        "body = '{}'",
        "at = '2026-03-02 14:20:00.000001+00'",
        "kind = 'note'",
        "key = 'x'",
        "digest = 'x'",
    ],
)
def test_a_line_changed_is_seen_on_its_mould(three: Records, database: Database, change: str) -> None:
    tamper(
        database, f"UPDATE facts SET {change.replace('+00', '' if database.file else '+00')} WHERE number = 5"
    )
    assert broken(three)[1] == 5
    assert three.verify_chain() is not None


def test_a_line_changed_with_its_digest_is_seen_by_the_line_after(three: Records, database: Database) -> None:
    with database.write() as session:
        row, before = session.get_one(FactTable, 5), session.get_one(FactTable, 4)
        row.hand = "bench 9"
        row.digest = digest(before.digest, line_of(row))
    assert broken(three)[1] == 5


def test_and_the_newest_by_the_head(three: Records, database: Database) -> None:
    with database.write() as session:
        row, before = session.get_one(FactTable, 8), session.get_one(FactTable, 7)
        row.hand = "bench 9"
        row.digest = digest(before.digest, line_of(row))
    assert broken(three) == [8, None, None]


@pytest.mark.parametrize(("lost", "seen_on"), [(5, [4, None, 6]), (7, [8, None, 6])])
def test_a_line_lost_is_seen_on_the_moulds_beside_it(
    three: Records, database: Database, lost: int, seen_on: list[int | None]
) -> None:
    tamper(database, f"DELETE FROM facts WHERE number = {lost}")
    assert broken(three) == seen_on


def test_the_newest_lost_is_seen_on_the_mould_before_it(three: Records, database: Database) -> None:
    three.append(2, NoteBody(text="by the window"), START, "bench 1")
    tamper(database, "DELETE FROM facts WHERE number = 9")
    assert broken(three) == [8, None, None]


def test_the_first_line_needs_none_before_it(three: Records, database: Database) -> None:
    tamper(database, "UPDATE facts SET hand = 'bench 9' WHERE number = 1")
    assert broken(three) == [1, None, None]


def test_other_moulds_are_not_blamed(three: Records, database: Database) -> None:
    """Their own lines fit; the whole is found broken at night."""
    tamper(database, "UPDATE facts SET hand = 'bench 9' WHERE number = 1")
    three.append(3, NoteBody(text="x"), START, "bench 1")
    assert broken(three)[2] is None
    assert three.verify_chain() == 1


def test_only_its_own_lines_and_their_neighbours_are_read(three: Records, database: Database) -> None:
    for _ in range(50):
        three.append(2, NoteBody(text="x"), START, "bench 1")
    read: list[Sequence[Any]] = []
    event.listen(database.engine, "before_cursor_execute", lambda *args: read.append(args[3]))
    three.mould_chain_broken_at(3)
    assert max(len(parameters) for parameters in read) <= 6


def test_a_long_life_is_looked_over_in_parts(three: Records, database: Database) -> None:
    for _ in range(600):
        three.append(2, NoteBody(text="x"), START, "bench 1")
    assert three.mould_chain_broken_at(2) is None
    tamper(database, "UPDATE facts SET hand = 'bench 9' WHERE number = 600")
    assert three.mould_chain_broken_at(2) == 600
