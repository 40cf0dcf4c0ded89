"""Columns by the names foundries give them."""

from __future__ import annotations

import pytest

from service.papers.notebook_columns import KNOWN, NAMES, Column, columns_of
from tests.service.room.cases import refused


@pytest.mark.parametrize(
    "heads",
    [
        ["mould", "coat", "date", "remark"],
        ["REMARK", "Date", "Coat", "Mould"],
        ["Piece", "Dip", "When", "Notes"],
        ["Mold name", "Dip_No.", "Date dipped", "comments"],
        ["  Shell ", "Layer", "Day", ""],
    ],
)
def test_in_any_order_and_case(heads: list[str]) -> None:
    columns = columns_of(heads)
    assert {Column.MOULD, Column.COAT, Column.DATE} <= set(columns.at)
    assert columns.unread == ()


def test_every_name_means_one_thing() -> None:
    assert len(KNOWN) == sum(len(names.split(",")) for names in NAMES.values())


def test_cells_by_column_short_rows_too() -> None:
    columns = columns_of(["date", "mould", "coat", "hook"])
    assert columns.cell(["x", "Heron"], Column.MOULD) == "Heron"
    assert columns.cell(["x"], Column.COAT) == columns.cell(["x"], Column.ROOM) == ""
    assert columns.unread == ("hook",)


def test_the_very_name_stands_before_others() -> None:
    for heads in (["mould", "piece", "coat", "date"], ["piece", "mould", "coat", "date"]):
        columns = columns_of(heads)
        assert heads[columns.at[Column.MOULD]] == "mould"
        assert columns.unread == ("piece",)


def test_two_that_could_be_meant_are_asked_about() -> None:
    with refused("column_twice") as told:
        columns_of(["piece", "work", "coat", "date"])
    assert "“piece” and “work”" in told.value.message


@pytest.mark.parametrize("heads", [["mould", "coat"], ["a", "b"], ["mould", "date", "remark"], [""]])
def test_a_missing_one_is_told(heads: list[str]) -> None:
    with refused("column_missing"):
        columns_of(heads)
