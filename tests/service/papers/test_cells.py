"""CSV that no spreadsheet works out, and that reads back as it was."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.papers.cells import BYTE_ORDER_MARK, cell, csv_lines, defused, fused

DANGEROUS = ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx", "\n=x", "＝1", "=", "-"]


class TestDefused:
    @pytest.mark.parametrize("text", DANGEROUS)
    def test_no_formula_is_left(self, text: str) -> None:
        assert defused(text) == f"'{text}"
        assert fused(defused(text)) == text

    @pytest.mark.parametrize("text", ["", "crack", "1 = 2", "'tis", "a-b", "5 mm"])
    def test_other_text_stays(self, text: str) -> None:
        assert defused(text) == text

    def test_text_that_looks_defused_comes_back_too(self) -> None:
        assert fused(defused("'=1")) == "'=1"
        assert fused(defused("''=1")) == "''=1"

    @given(st.text(alphabet="'=+-@\t\r\nab ", max_size=8) | st.text())
    def test_any_text_comes_back(self, text: str) -> None:
        assert fused(defused(text)) == text
        assert not defused(text).startswith(("=", "+", "-", "@", "\t", "\r"))


@pytest.mark.parametrize(
    ("value", "shown"),
    [(None, ""), (False, ""), (True, "yes"), (-3.25, "-3.25"), (12, "12"), (0.0, "0"), ("-3", "'-3")],
)
def test_cells(value: str | float | bool | None, shown: str) -> None:
    assert cell(value) == shown


@given(
    st.lists(
        st.lists(
            st.text(alphabet=st.characters(exclude_categories=["Cs"], exclude_characters="\x00")),
            min_size=3,
            max_size=3,
        )
    )
)
def test_a_file_reads_back_by_rfc_4180(rows: list[list[str]]) -> None:
    # RFC 4180: CRLF ends a record, quotation marks inside a field are doubled.
    text = "".join(csv_lines(["a", "b", "c"], rows))
    assert text.startswith(f"{BYTE_ORDER_MARK}a,b,c\r\n")
    read = list(csv.reader(io.StringIO(text.removeprefix(BYTE_ORDER_MARK), newline=""), strict=True))
    assert [[fused(field) for field in row] for row in read[1:]] == rows
