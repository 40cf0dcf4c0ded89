"""Files as spreadsheets save them."""

from __future__ import annotations

import pytest

from service.errors import BadInput
from service.papers.notebook_columns import known
from service.papers.notebook_text import LARGEST, rows_of, text_of
from tests.service.room.cases import refused

TEXT = "mould,coat,date,remark\nHéron,1,2024-11-03,“cold” 5 °C\n"


class TestEncodings:
    @pytest.mark.parametrize(
        ("encoding", "name"),
        [
            ("utf-8", "UTF-8"),
            ("utf-8-sig", "UTF-8"),
            ("utf-16", "UTF-16"),
            ("utf-16-le", "UTF-16"),
            ("utf-16-be", "UTF-16"),
            ("cp1252", "Windows-1252"),
        ],
    )
    def test_are_found_by_themselves(self, encoding: str, name: str) -> None:
        assert text_of(TEXT.encode(encoding)) == (TEXT, name)

    def test_line_ends_are_made_alike(self) -> None:
        assert text_of(b"a\r\nb\rc\n")[0] == "a\nb\nc\n"

    @pytest.mark.parametrize("data", [b"PK\x03\x04rest", b"\xd0\xcf\x11\xe0rest"])
    def test_a_spreadsheets_own_file_is_told(self, data: bytes) -> None:
        with refused("not_csv"):
            text_of(data)

    @pytest.mark.parametrize("data", [b"ab\x00\x00c", b"\xff\xfe\x00", b"\x81\x8d\x8f"])
    def test_what_is_no_text_is_refused(self, data: bytes) -> None:
        with refused("not_text"):
            text_of(data)

    def test_as_large_as_may_be_and_no_larger(self) -> None:
        assert text_of(b"a" * LARGEST)
        with refused("file_too_large"):
            text_of(b"a" * (LARGEST + 1))


class TestRows:
    @pytest.mark.parametrize("sign", [",", ";", "\t"])
    def test_the_separator_is_found_though_others_stand_in_remarks(self, sign: str) -> None:
        text = (
            sign.join(["mould", "coat", "date", "remark"])
            + "\n"
            + sign.join(["Heron", "1", "3.11.24", '"a, b; c"'])
        )
        separator, rows = rows_of(text, known)
        assert separator == sign
        assert rows[1].cells == ("Heron", "1", "3.11.24", "a, b; c")

    def test_numbers_are_those_of_the_lines_a_row_begins_at(self) -> None:
        text = 'mould,coat,date\n\nHeron,1,"x\ny"\n , ,\nDunlin,2,z\n'
        assert [row.number for row in rows_of(text, known)[1]] == [1, 3, 6]

    def test_a_spreadsheets_line_about_the_separator_is_passed_over(self) -> None:
        _, rows = rows_of("sep=;\nmould;coat;date\nHeron;1;x\n", known)
        assert [(row.number, row.cells[0]) for row in rows] == [(2, "mould"), (3, "Heron")]

    def test_a_quotation_mark_inside_a_cell_is_let_be(self) -> None:
        assert rows_of('mould,coat,date,remark\nHeron,1,x,a 5" crack\n', known)[1][1].cells[3] == 'a 5" crack'

    @pytest.mark.parametrize("line", ['"Heron,1,x', '"Heron"s,1,x'])
    def test_one_left_open_is_told_with_its_line(self, line: str) -> None:
        with refused("line_unreadable") as told:
            rows_of(f"mould,coat,date\nDunlin,1,x\n{line}\n", known)
        assert "Line 3" in told.value.message

    @pytest.mark.parametrize("text", ["", "\n\n", " , ,\n"])
    def test_nothing_is_told(self, text: str) -> None:
        with pytest.raises(BadInput, match="nothing in the file"):
            rows_of(text, known)

    def test_a_huge_cell_is_told(self) -> None:
        with refused("line_unreadable"):
            rows_of(f"mould,coat,date\nHeron,1,{'x' * 200_000}\n", known)
