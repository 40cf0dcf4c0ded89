"""The ledger read page by page, on both databases."""

from __future__ import annotations

import pytest

from service.records import ledger_pages
from service.records.facts import NoteBody, WithdrawnBody
from service.records.ledger import START as NOTHING
from service.records.ledger import first_broken
from service.records.ledger_pages import Entry
from service.records.store import Records
from tests.service.records.making import dip, hang, minutes, reading


def test_an_empty_ledger(records: Records) -> None:
    assert records.ledger_end() == (0, NOTHING)
    assert records.ledger_entries(0) == []
    assert list(records.ledger_lines([])) == []


def test_entries_tell_where_each_fact_stands(records: Records) -> None:
    hung = hang(records)
    note = records.append(hung.mould, NoteBody(text="x"), minutes(1), "")
    gone = records.append(hung.mould, WithdrawnBody(), minutes(2), "", replaces=note.number)
    assert records.ledger_entries(gone.number) == [
        Entry(1, hung.mould_id, "mould", hung.at, None),
        Entry(2, hung.mould_id, "note", minutes(1), None),
        Entry(3, hung.mould_id, "withdrawn", minutes(2), 2),
    ]
    assert len(records.ledger_entries(2)) == 2


@pytest.mark.parametrize("page", [1, 2, 3, 500])
def test_lines_follow_one_another_whatever_the_page(
    records: Records, monkeypatch: pytest.MonkeyPatch, page: int
) -> None:
    monkeypatch.setattr(ledger_pages, "PAGE", page)
    mould = hang(records).mould
    for coat in range(1, 6):
        records.append(mould, dip(coat), minutes(coat), "bench 1", key=f"dip {coat}")
    lines = list(records.ledger_lines(range(1, 7)))
    assert [line.number for line in lines] == [1, 2, 3, 4, 5, 6]
    assert first_broken(lines, *records.ledger_end()) is None
    assert [line.number for line in records.ledger_lines([5, 2])] == [2, 5]


def test_the_span_of_a_sensor(records: Records) -> None:
    assert records.reading_span("shell-room-north") is None
    records.add_readings([reading(minutes(3)), reading(minutes(1)), reading(minutes(9), sensor="other")])
    assert records.reading_span("shell-room-north") == (minutes(1), minutes(3))
