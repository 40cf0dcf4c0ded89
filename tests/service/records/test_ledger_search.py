"""Whatever single thing is done to a ledger, it is found and rightly named; and so are a few done together."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.records.ledger import START, Line, chained
from service.records.ledger_lines import row_of
from service.records.ledger_search import MOST_SUSPECTS, Found, What, search
from tests.service.records.test_ledger import CHANGES, chain

LENGTH = 36
WHOLE = chain(LENGTH)
CONTENT = [name for name in CHANGES if name not in ("number", "digest")]
EVERY = range(1, LENGTH + 1)


def looked(lines: list[Line], head: tuple[int, str] | None = (LENGTH, WHOLE[-1].digest)) -> list[Found]:
    return search([row_of(asdict(line)) for line in sorted(lines, key=lambda line: line.number)], head)


def told(found: list[Found]) -> list[tuple[What, int, int, int | None]]:
    return [(f.what, f.number, f.until, f.other) for f in found]


def changed(number: int, column: str, value: Any = None) -> list[Line]:
    line = WHOLE[number - 1]
    new = CHANGES[column](getattr(line, column)) if value is None else value
    return [*WHOLE[: number - 1], replace(line, **{column: new}), *WHOLE[number:]]


def without(*numbers: int) -> list[Line]:
    return [line for line in WHOLE if line.number not in numbers]


def test_a_whole_ledger_shows_nothing() -> None:
    assert looked(WHOLE) == []
    assert search([], (0, START)) == []


@pytest.mark.parametrize("column", CONTENT)
def test_every_column_of_every_line(column: str) -> None:
    for number in EVERY:
        assert told(looked(changed(number, column))) == [(What.CHANGED, number, number, None)]


def test_a_digest_alone_is_told_from_what_it_stands_for() -> None:
    for number in EVERY:
        assert told(looked(changed(number, "digest"))) == [(What.DIGEST, number, number, None)]


def test_a_number_alone_is_told_as_a_line_that_was_moved() -> None:
    for number in EVERY:
        assert told(looked(changed(number, "number"))) == [(What.MOVED, number, number, number + 100)]


def test_every_line_removed() -> None:
    for number in EVERY:
        assert told(looked(without(number))) == [(What.MISSING, number, number, None)]


def test_the_last_ones_removed_are_told_by_the_end_mark() -> None:
    assert told(looked(WHOLE[:30])) == [(What.MISSING, 31, LENGTH, None)]
    assert told(looked([])) == [(What.MISSING, 1, LENGTH, None)]


def test_a_run_removed_is_one_finding() -> None:
    assert told(looked(without(7, 8, 9))) == [(What.MISSING, 7, 9, None)]
    assert told(looked(without(1, 2))) == [(What.MISSING, 1, 2, None)]


@pytest.mark.parametrize("carried", [("number",), ("number", "digest")])
def test_every_two_neighbours_that_changed_places(carried: tuple[str, ...]) -> None:
    """The whole line under the other's number; and the content alone, under the other's number and digest."""
    for first in range(1, LENGTH):
        a, b = WHOLE[first - 1], WHOLE[first]
        swapped = [
            replace(a, **{name: getattr(b, name) for name in carried}),
            replace(b, **{name: getattr(a, name) for name in carried}),
        ]
        assert told(looked([*without(a.number, b.number), *swapped])) == [
            (What.SWAPPED, first, first, first + 1)
        ]


def test_any_two_lines_that_changed_places() -> None:
    a, b = WHOLE[4], WHOLE[28]
    lines = [*without(5, 29), replace(a, number=29), replace(b, number=5)]
    assert told(looked(lines)) == [(What.SWAPPED, 5, 5, 29)]


def test_three_lines_turned_round_are_three_that_stand_wrongly() -> None:
    lines = [replace(WHOLE[9], number=11), replace(WHOLE[10], number=12), replace(WHOLE[11], number=10)]
    found = looked([*without(10, 11, 12), *lines])
    assert told(found) == [(What.MOVED, 10, 10, 11), (What.MOVED, 11, 11, 12), (What.MOVED, 12, 12, 10)]


def test_a_line_put_in_at_the_end() -> None:
    forged = chained(WHOLE[-1].digest, replace(WHOLE[-1], number=LENGTH + 1, hand="nobody"))
    assert told(looked([*WHOLE, forged])) == [(What.END, LENGTH + 1, LENGTH + 1, LENGTH)]


def test_a_line_put_in_far_off_is_from_outside() -> None:
    forged = replace(WHOLE[3], number=90, hand="nobody")
    assert told(looked([*WHOLE, forged])) == [(What.EXTRA, 90, 90, None)]


@pytest.mark.parametrize("head", [(LENGTH, "0" * 64), (LENGTH + 3, WHOLE[-1].digest), (30, WHOLE[29].digest)])
def test_the_end_mark_changed(head: tuple[int, str]) -> None:
    assert told(looked(WHOLE, head)) == [(What.END, LENGTH, LENGTH, head[0])]


def test_the_end_mark_removed() -> None:
    assert told(looked(WHOLE, None)) == [(What.END, LENGTH, LENGTH, None)]


def test_a_line_and_its_digest_rewritten_together_show_at_the_next() -> None:
    forged = chained(WHOLE[8].digest, replace(WHOLE[9], body='{"text":"never"}'))
    found = looked([*without(10), forged])
    assert told(found) == [(What.CHANGED, 11, 11, None)]
    assert found[0].before is not None
    assert found[0].before.number == 10  # named with the one it should follow on


def test_neighbours_are_told() -> None:
    (found,) = looked(without(7))
    assert (found.before and found.before.number, found.after and found.after.number) == (6, 8)
    (first,) = looked(without(1))
    assert (first.before, first.after and first.after.number) == (None, 2)
    (last,) = looked(without(LENGTH))
    assert (last.before and last.before.number, last.after) == (LENGTH - 1, None)


@pytest.mark.parametrize("value", [b"dip", 7, None, 2.5])
def test_what_coatbell_never_writes_is_a_change(value: object) -> None:
    for number in (1, 17, LENGTH):
        row = asdict(WHOLE[number - 1]) | {"hand": value}
        rows = [row_of(row) if line.number == number else row_of(asdict(line)) for line in WHOLE]
        assert told(search(rows, (LENGTH, WHOLE[-1].digest))) == [(What.CHANGED, number, number, None)]


def test_a_ledger_changed_throughout_is_looked_through_all_the_same() -> None:
    lines = [replace(line, hand="nobody") for line in chain(MOST_SUSPECTS + 60)]
    found = looked(lines, (len(lines), lines[-1].digest))
    assert [f.number for f in found] == list(range(1, len(lines) + 1))
    assert {f.what for f in found} == {What.CHANGED}


@given(st.integers(1, 40), st.data())
@settings(deadline=None)
def test_any_one_change_of_any_ledger_is_named(length: int, data: st.DataObject) -> None:
    lines = chain(length)
    head = (length, lines[-1].digest)
    number = data.draw(st.integers(1, length), "which entry")
    column = data.draw(st.sampled_from(CONTENT), "which column")
    old = getattr(lines[number - 1], column)
    new = data.draw(OTHER[type(old)].filter(lambda value: value != old), "what it says then")
    lines[number - 1] = replace(lines[number - 1], **{column: new})
    assert told(looked(lines, head)) == [(What.CHANGED, number, number, None)]


OTHER: dict[type, st.SearchStrategy[Any]] = {
    int: st.integers(0, 10**9),
    str: st.text(max_size=40),
    type(None): st.one_of(st.integers(1, 99), st.text(min_size=1, max_size=9)),
    type(WHOLE[0].at): st.datetimes(timezones=st.just(WHOLE[0].at.tzinfo)),
}


@given(st.integers(3, 40), st.data())
@settings(deadline=None)
def test_any_two_changes_are_both_named(length: int, data: st.DataObject) -> None:
    lines = chain(length)
    head = (length, lines[-1].digest)
    both = data.draw(st.sets(st.integers(1, length), min_size=2, max_size=2), "which entries")
    for number in both:
        lines[number - 1] = replace(lines[number - 1], hand="somebody else")
    assert {f.number for f in looked(lines, head)} == both
