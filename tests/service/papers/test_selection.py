"""Which facts come along."""

from __future__ import annotations

from datetime import UTC, datetime

from hypothesis import given
from hypothesis import strategies as st

from service.papers.selection import chains, describing, replaced_by, selected
from service.records.ledger_pages import Entry


def at(day: int) -> datetime:
    return datetime(2026, 3, day, tzinfo=UTC)


ENTRIES = [
    Entry(1, 1, "mould", at(1), None),
    Entry(2, 1, "dip", at(2), None),
    Entry(3, None, "tank check", at(2), None),
    Entry(4, 2, "mould", at(3), None),
    Entry(5, 1, "dip", at(4), 2),
    Entry(6, 2, "dip", at(5), None),
    Entry(7, None, "withdrawn", at(9), 3),
    Entry(8, 1, "mould", at(6), 1),
    Entry(9, 2, "note", at(8), None),
]


class TestSelected:
    def test_everything(self) -> None:
        assert selected(ENTRIES, None, None, None) == [entry.number for entry in ENTRIES]

    def test_one_mould(self) -> None:
        assert selected(ENTRIES, 1, None, None) == [1, 2, 5, 8]

    def test_a_span_brings_whole_chains_and_what_each_mould_is(self) -> None:
        assert selected(ENTRIES, None, at(2), at(3)) == [1, 2, 3, 5, 7, 8]

    def test_a_correction_inside_brings_what_it_replaced(self) -> None:
        assert selected(ENTRIES, None, at(4), at(5)) == [1, 2, 5, 8]

    def test_since_is_included_until_is_not(self) -> None:
        assert selected(ENTRIES, None, at(8), at(9)) == [4, 9]
        assert selected(ENTRIES, None, at(9), None) == [3, 7]

    def test_a_span_without_anything(self) -> None:
        assert selected(ENTRIES, None, at(20), None) == []

    def test_a_mould_within_a_span(self) -> None:
        assert selected(ENTRIES, 2, at(8), at(10)) == [4, 9]

    @given(st.integers(0, 20), st.integers(0, 20))
    def test_no_line_comes_without_what_took_it_back(self, since: int, length: int) -> None:
        begins = at(1).replace(day=1 + since % 28)
        ends = at(1).replace(day=1 + (since + length) % 28)
        found = set(selected(ENTRIES, None, begins, ends))
        for entry in ENTRIES:
            if entry.replaces is not None:
                assert (entry.number in found) == (entry.replaces in found)


def test_chains_lead_to_the_first() -> None:
    longer = [*ENTRIES, Entry(10, 1, "dip", at(9), 5)]
    assert chains(longer)[10] == chains(longer)[5] == 2


def test_what_replaced_what_and_what_now_describes() -> None:
    assert replaced_by(ENTRIES)[3].number == 7
    assert describing(ENTRIES) == {1: 8, 2: 4}
