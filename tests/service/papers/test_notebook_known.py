"""A mould that stands in the notebook and in coatbell itself is one mould, not two."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from service.papers.notebook_findings import Findings
from service.papers.notebook_known import Kept, kept_moulds, there_already
from service.papers.notebook_plan import Choices
from tests.service.papers.notebooks import book, plan
from tests.service.papers.paper_shop import paper_shop
from tests.service.room.cases import T0, h
from tests.service.room.small_shop import SmallShop

HANGS = "Heron,1,2026-02-28,prime"
"""The clock of the small shop stands at T0, the second of March 2026."""


@pytest.fixture
def small(tmp_path: Path) -> Iterator[SmallShop]:
    with paper_shop(tmp_path) as made:
        yield made


def taken(small: SmallShop, *lines: str) -> Findings:
    return small.shop.notebook.take_in(book(*lines).encode(), Choices())


def test_one_that_hangs_does_not_hang_twice(small: SmallShop) -> None:
    small.hang("Heron", at=T0 - h(48))
    found = taken(small, HANGS, "Teal,1,2026-02-28,prime")
    assert [mould.name for mould in small.shop.board().moulds].count("Heron") == 1
    assert [mould.name for mould in found.moulds] == ["Teal"]
    (fault,) = found.faults
    assert (fault.line, fault.mould) == (2, "Heron")
    assert "recorded in coatbell itself" in fault.message
    assert [left.name for left in found.left_out] == ["Heron"]
    assert not found.whole


def test_another_spelling_is_the_same_name(small: SmallShop) -> None:
    small.hang("HERON", at=T0 - h(48))
    assert not taken(small, HANGS).moulds


def test_one_that_left_in_those_days_is_the_same(small: SmallShop) -> None:
    small.hang("Heron", at=T0 - h(72))
    small.shop.end(1, "scrapped", "", "bench 1", "end", T0 - h(1))
    assert not taken(small, HANGS).moulds


def test_one_of_that_name_from_another_year_is_another(small: SmallShop) -> None:
    small.hang("Heron", at=T0 - h(48))
    found = taken(small, "Heron,1,2024-11-03,prime", "Heron,,2024-11-09,,poured")
    assert ([mould.name for mould in found.moulds], found.whole) == (["Heron"], True)


def test_what_came_from_a_notebook_is_known_by_its_key_not_by_this(small: SmallShop) -> None:
    taken(small, HANGS)
    again = taken(small, HANGS)
    assert ([mould.name for mould in again.before], again.faults) == (["Heron"], ())
    assert kept_moulds(small.records, ["Heron"]) == {}


@pytest.mark.parametrize(
    ("began", "ended", "same"),
    [(0, None, True), (0, 0, True), (-9, -1, False), (1, None, False), (-9, None, True), (-9, 0, True)],
)
def test_at_one_time_to_the_instant(began: int, ended: int | None, same: bool) -> None:
    """Days from the only coat of one that ended with it."""
    (mould,) = plan(book("Teal,1,2024-11-03,prime")).moulds
    assert mould.ended is not None

    def day(number: int, at: datetime) -> datetime:
        return at + timedelta(days=number)

    kept = Kept("Teal", day(began, mould.until), None if ended is None else day(ended, mould.since))
    fault = there_already(mould, {"teal": [kept]})
    assert (fault is not None) is same
